import type { CueTarget, EnabledClass } from '../../protocols/osc/orders.js';

/** Who gave an order: a person now, or the file that remembers what was ordered before a restart. */
export type OperatorCause = 'command' | 'restored';

export interface Asked {
  readonly cause: OperatorCause;
  /** Who asked, in a technician's words; undefined where nobody knows. */
  readonly by?: string | undefined;
  /** Its answer, `operator-done` or `operator-refused`, has the same; undefined: only a refusal is told. */
  readonly id?: number | undefined;
  /**
   * The engine does it until then, and refuses it later, monotonic seconds: whoever asked has seen another moment.
   * undefined: at any time.
   */
  readonly untilS?: number | undefined;
}

/** What a person at the machine, or a program on their behalf, wants of the engine. */
export type OperatorAction = Asked &
  (
    | /** The performer wears this tracker from now on, beside those that they wear; whoever wore it doesn't. */
    { readonly kind: 'assign'; readonly tracker: string; readonly performer: string }
    /** Nobody wears this tracker from now on. */
    | { readonly kind: 'unassign'; readonly tracker: string }
    /** The light of the performer (of everybody, where none is named) goes to its safe values, or may come back. */
    | {
        readonly kind: 'stop';
        readonly performer: string | undefined;
        /** Restored, and only the main machine of two had told of it. */
        readonly toldByMain?: true;
      }
    | { readonly kind: 'resume'; readonly performer: string | undefined }
    /**
     * The performer (everybody, where none is named) is off stage: absent, and not lost.
     * `away`: they have left it already, and come back as soon as they are heard.
     */
    | { readonly kind: 'off'; readonly performer: string | undefined; readonly away?: true }
    /** They are on the stage after all. */
    | { readonly kind: 'on'; readonly performer: string | undefined }
    /**
     * This cue is on from now on; or the one after it, or before it. `from`: the cue in which it was asked, so that two
     * presses of one button are one step.
     */
    | { readonly kind: 'cue'; readonly to: CueTarget; readonly from?: string }
    /** Pins a head to this performer, whatever its rule says, until it is unpinned (undefined). */
    | { readonly kind: 'pin'; readonly fixture: string; readonly performer: string | undefined }
    /** Mappings of this title act no more, or again. */
    | { readonly kind: 'mapping'; readonly mapping: string; readonly off: boolean }
    /** This condition was entered before a restart: it is left, and told of, when it is surely over. */
    | { readonly kind: 'entered'; readonly condition: string }
    /**
     * A hand holds the enable of a hazard class, and says so again and again; or lets it go.
     * `hand` tells it from others of whoever asked.
     */
    | {
        readonly kind: 'hold';
        readonly hazard: EnabledClass;
        readonly held: boolean;
        readonly hand?: string;
      }
    /**
     * The supervisor has all light at its safe look, or on the way to or from it (`held`), or sends again what the
     * engine wants.
     */
    | { readonly kind: 'safe-look'; readonly held: boolean }
    /** Highlights this fixture for a while; undefined: none. `whileTracked`: even if performers are on stage. */
    | {
        readonly kind: 'highlight';
        readonly fixture: string | undefined;
        readonly whileTracked?: true;
      }
  );
