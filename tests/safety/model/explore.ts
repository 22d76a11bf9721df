/**
 * Breadth-first search through all that a machine can come to, whatever its inputs do. The machine is the
 * real code, called with copies of its state; time goes in steps of one length.
 */
export interface Model<S, I> {
  readonly initial: S;
  readonly inputs: readonly I[];
  /** The state after one step; must leave `state` as it is. */
  next(state: S, input: I): S;
  /** Two states with the same key behave alike from here on. */
  key(state: S): string;
}

export interface Graph<S, I> {
  readonly states: readonly S[];
  readonly inputs: readonly I[];
  /** Index of the state after each input, `inputs.length` for each state. */
  readonly after: Int32Array;
}

export function explore<S, I>(model: Model<S, I>, most = 2_000_000): Graph<S, I> {
  const { inputs } = model;
  const states: S[] = [model.initial];
  const known = new Map([[model.key(model.initial), 0]]);
  const after: number[] = [];
  for (let at = 0; at < states.length; at++) {
    for (const input of inputs) {
      const next = model.next(states[at] as S, input);
      const key = model.key(next);
      let index = known.get(key);
      if (index === undefined) {
        index = states.push(next) - 1;
        if (index >= most) throw new Error(`more than ${most} states`);
        known.set(key, index);
      }
      after.push(index);
    }
  }
  return { states, inputs, after: Int32Array.from(after) };
}

export interface Edge<S, I> {
  readonly from: S;
  readonly input: I;
  readonly to: S;
}

/** Every step that there is. */
export function* edges<S, I>({ states, inputs, after }: Graph<S, I>): Generator<Edge<S, I>> {
  for (let s = 0; s < states.length; s++) {
    for (let i = 0; i < inputs.length; i++) {
      const to = states[after[s * inputs.length + i] as number] as S;
      yield { from: states[s] as S, input: inputs[i] as I, to };
    }
  }
}

/**
 * The first few steps that break a rule, in words: a test expects none. (An `expect` a step would take most of the
 * time: there are hundreds of thousands.)
 */
export function breaches<S, I>(
  graph: Graph<S, I>,
  key: (state: S) => string,
  isBreach: (edge: Edge<S, I>) => boolean,
): string[] {
  const found: string[] = [];
  for (const edge of edges(graph)) {
    if (!isBreach(edge)) continue;
    found.push(`${key(edge.from)} ${JSON.stringify(edge.input)} => ${key(edge.to)}`);
    if (found.length === 5) break;
  }
  return found;
}

/**
 * The longest way, in steps, that avoids the goal when only some steps may be taken; from any state that
 * the first test accepts. A way that goes round in a circle without ever coming to the goal is an error.
 */
export function longestWay<S, I>(
  { states, inputs, after }: Graph<S, I>,
  starts: (state: S) => boolean,
  isGoal: (state: S) => boolean,
  mayTake: (edge: Edge<S, I>) => boolean,
): number {
  const OPEN = -2;
  const NEW = -1;
  const length = new Int32Array(states.length).fill(NEW);
  let longest = 0;
  for (let start = 0; start < states.length; start++) {
    if (!starts(states[start] as S) || isGoal(states[start] as S)) continue;
    // Depth first, with a stack of its own: [state, next input].
    const stack: [number, number][] = [[start, 0]];
    if (length[start] === NEW) length[start] = OPEN;
    while (stack.length > 0) {
      const top = stack.at(-1) as [number, number];
      const [at, i] = top;
      if ((length[at] as number) >= 0) {
        stack.pop();
        continue;
      }
      if (i === inputs.length) {
        stack.pop();
        let most = 0;
        for (let k = 0; k < inputs.length; k++) {
          const to = after[at * inputs.length + k] as number;
          const edge = { from: states[at] as S, input: inputs[k] as I, to: states[to] as S };
          if (!mayTake(edge)) continue;
          most = Math.max(most, isGoal(states[to] as S) ? 1 : 1 + (length[to] as number));
        }
        length[at] = most;
        continue;
      }
      top[1] += 1;
      const to = after[at * inputs.length + i] as number;
      const edge = { from: states[at] as S, input: inputs[i] as I, to: states[to] as S };
      if (!mayTake(edge) || isGoal(states[to] as S)) continue;
      if (length[to] === OPEN) {
        const round = stack.slice(stack.findIndex(([state]) => state === to));
        throw new Error(
          `a circle that never comes to the goal:\n${round
            .map(([state, k]) => JSON.stringify([states[state], inputs[k - 1]]))
            .join('\n')}`,
        );
      }
      if (length[to] === NEW) {
        length[to] = OPEN;
        stack.push([to, 0]);
      }
    }
    longest = Math.max(longest, length[start] as number);
  }
  return longest;
}
