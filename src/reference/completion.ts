import type { HelpOption } from './help-text.js';

/** A command as a shell completes it. */
export interface CompletedCommand {
  readonly name: string;
  readonly summary: string;
  readonly options: readonly HelpOption[];
  /** Words that may stand first behind it; empty: files. */
  readonly words: readonly string[];
  /** Words that may stand second, behind a folder; empty: files. */
  readonly verbs: readonly string[];
}

export const SHELLS = ['bash', 'zsh', 'fish'] as const;
export type Shell = (typeof SHELLS)[number];

/** A script that completes commands, options and files in a shell. */
export function completionOf(shell: Shell, commands: readonly CompletedCommand[]): string {
  const script = { bash, zsh, fish }[shell](commands);
  return `${script.join('\n')}\n`;
}

const HEADER = '# Completion for lampwright, made from its table of commands.';

function bash(commands: readonly CompletedCommand[]): string[] {
  const cases = commands.map(({ name, options, words, verbs }) => {
    const all = ['help', ...options.map(option => option.name)].map(one => `--${one}`).join(' ');
    const values = options.filter(({ takesValue }) => takesValue).map(one => `--${one.name}`);
    const choices = options
      .filter(one => one.choices.length > 0)
      .map(one => `--${one.name}) choices='${one.choices.join(' ')}' ;;`);
    return [
      `    ${name})`,
      `      options='${all}' valued=' ${values.join(' ')} ' words='${words.join(' ')}' verbs='${verbs.join(' ')}'`,
      ...(choices.length === 0
        ? []
        : ['      case $before in', ...choices.map(one => `        ${one}`), '      esac']),
      '      ;;',
    ];
  });
  return [
    HEADER,
    '_lampwright() {',
    `  local current=\${COMP_WORDS[COMP_CWORD]} before=\${COMP_WORDS[COMP_CWORD-1]}`,
    "  local options='' valued='' words='' verbs='' choices=''",
    '  COMPREPLY=()',
    '  if [ "$COMP_CWORD" -eq 1 ]; then',
    `    COMPREPLY=($(compgen -W '${[...commands.map(one => one.name), '--help', '--version'].join(' ')}' -- "$current"))`,
    '    return',
    '  fi',
    `  case \${COMP_WORDS[1]} in`,
    ...cases.flat(),
    '  esac',
    '  if [ -n "$choices" ]; then',
    '    COMPREPLY=($(compgen -W "$choices" -- "$current"))',
    '  elif [[ $valued == *" $before "* ]]; then',
    '    COMPREPLY=($(compgen -f -- "$current"))',
    '  elif [[ $current == -* ]]; then',
    '    COMPREPLY=($(compgen -W "$options" -- "$current"))',
    '  elif [ -n "$words" ] && [ "$COMP_CWORD" -eq 2 ]; then',
    '    COMPREPLY=($(compgen -W "$words" -- "$current"))',
    '  elif [ -n "$verbs" ] && [ "$COMP_CWORD" -eq 3 ]; then',
    '    COMPREPLY=($(compgen -W "$verbs" -- "$current"))',
    '  else',
    '    COMPREPLY=($(compgen -f -- "$current"))',
    '  fi',
    '}',
    'complete -o filenames -F _lampwright lampwright',
  ];
}

function zsh(commands: readonly CompletedCommand[]): string[] {
  return [
    '#compdef lampwright',
    HEADER,
    'local -a commands',
    'commands=(',
    ...commands.map(
      ({ name, summary }) => `  ${quoted(`${name}:${summary.replaceAll(':', ' -')}`)}`,
    ),
    ')',
    'if (( CURRENT == 2 )); then',
    "  _describe -t commands 'command' commands",
    "  _arguments '--help[what there is]' '--version[which version it is]'",
    '  return',
    'fi',
    'local command=$words[2]',
    'shift words',
    '(( CURRENT-- ))',
    'case $command in',
    ...commands.flatMap(({ name, options, words, verbs }) => [
      `  ${name})`,
      '    _arguments -s \\',
      "      '--help[what it takes, with examples]' \\",
      ...options.map(one => `      ${quoted(zshOption(one))} \\`),
      ...(words.length > 0 ? [`      ${quoted(`1:what:(${words.join(' ')})`)} \\`] : []),
      ...(verbs.length > 0
        ? ["      '1:folder:_files -/' \\", `      ${quoted(`2:what:(${verbs.join(' ')})`)} \\`]
        : []),
      "      '*:file:_files'",
      '    ;;',
    ]),
    'esac',
  ];
}

function zshOption({ name, text, takesValue, choices }: HelpOption): string {
  const said = text.replace(/[[\]:]/g, ' ');
  const value = choices.length > 0 ? `:${name}:(${choices.join(' ')})` : `:${name}:_files`;
  return `--${name}[${said}]${takesValue ? value : ''}`;
}

function fish(commands: readonly CompletedCommand[]): string[] {
  const first = "-n '__fish_use_subcommand'";
  return [
    HEADER,
    `complete -c lampwright ${first} -f -l help -d 'what there is'`,
    `complete -c lampwright ${first} -f -l version -d 'which version it is'`,
    ...commands.flatMap(({ name, summary, options, words, verbs }) => {
      const within = `-n '__fish_seen_subcommand_from ${name}'`;
      return [
        `complete -c lampwright ${first} -f -a ${name} -d ${quoted(summary)}`,
        `complete -c lampwright ${within} -l help -d 'what it takes, with examples'`,
        ...[...words, ...verbs].map(word => `complete -c lampwright ${within} -a ${word}`),
        ...options.map(one => {
          const value = one.choices.length > 0 ? ` -x -a '${one.choices.join(' ')}'` : ' -r';
          const said = one.text === '' ? '' : ` -d ${quoted(one.text)}`;
          return `complete -c lampwright ${within} -l ${one.name}${one.takesValue ? value : ''}${said}`;
        }),
      ];
    }),
  ];
}

/** In single quotes, as all three shells read them. */
function quoted(text: string): string {
  return `'${text.replaceAll("'", '’')}'`;
}
