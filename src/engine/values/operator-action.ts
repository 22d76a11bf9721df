import type { CueTarget, EnabledClass } from '../../protocols/osc/orders.js';

/** Who gave an order: a person now, or the file that remembers what was ordered before a restart. */
export type OperatorCause = 'command' | 'restored';

export interface Asked {
  readonly cause: OperatorCause;
  /** Who asked, in a technician's words; undefined: not known. */
  readonly by?: string | undefined;
  /** Its answer, `operator-done` or `operator-refused`, has the same; undefined: only a refusal is told. */
  readonly id?: number | undefined;
  /**
   * The engine refuses it after this time, monotonic seconds: whoever asked was looking at another moment.
   * undefined: at any time.
   */
  readonly untilS?: number | undefined;
}

/** What a person at the machine, or a program on their behalf, asks of the engine. */
export type OperatorAction = Asked &
  (
    | /** Gives the performer this tracker, in addition to those they wear; whoever wore it no longer does. */
    { readonly kind: 'assign'; readonly tracker: string; readonly performer: string }
    /** Takes this tracker off whoever wears it. */
    | { readonly kind: 'unassign'; readonly tracker: string }
    /** The light of the performer (of everybody, where none is named) goes to its safe values, or may come back. */
    | {
        readonly kind: 'stop';
        readonly performer: string | undefined;
        /** Restored, and only the main machine of a pair had ordered it. */
        readonly toldByMain?: true;
      }
    | { readonly kind: 'resume'; readonly performer: string | undefined }
    /**
     * The performer (everybody, if none is named) is off stage: absent, not lost. `away`: they have already left, and
     * come back as soon as they are heard.
     */
    | { readonly kind: 'off'; readonly performer: string | undefined; readonly away?: true }
    /** They are on the stage after all. */
    | { readonly kind: 'on'; readonly performer: string | undefined }
    /**
     * Takes this cue, or the next or the previous one. `from`: the cue that was on when it was asked, so that two
     * presses of one button are one step.
     */
    | { readonly kind: 'cue'; readonly to: CueTarget; readonly from?: string }
    /** Pins a head to this performer, whatever its rule says, until it is unpinned (undefined). */
    | { readonly kind: 'pin'; readonly fixture: string; readonly performer: string | undefined }
    /** Turns the mappings with this title off, or on again. */
    | { readonly kind: 'mapping'; readonly mapping: string; readonly off: boolean }
    /** This condition was entered before a restart: it is left, and that is sent, when it is known to be over. */
    | { readonly kind: 'entered'; readonly condition: string }
    /**
     * Somebody holds the enable of a hazard class, repeating it; or releases it. `hand` tells apart several holds
     * from the same place.
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
