import type { OutputPlan } from '../../show/model/model.js';
import { findInterface, type InterfaceFinder, type LightingInterface } from './interfaces.js';

export interface LineClaimsOptions {
  readonly findInterface?: InterfaceFinder;
  /** See `LineOptions`. */
  admits?(where: LightingInterface): boolean;
}

/** Which line has which interface: no two have one, by whatever names the outputs call it. */
export class LineClaims {
  #isDivided = false;
  /** Addresses, by line; of an interface that is not there none. */
  readonly #addresses: (string | undefined)[] = [];

  constructor(private readonly options: LineClaimsOptions) {}

  /** A line has found the interface of another one. */
  get isDivided(): boolean {
    return this.#isDivided;
  }

  /** Of the next line. Finds its interface by any of the names that its outputs have for it. */
  finderOf(plans: readonly OutputPlan[]): InterfaceFinder {
    const { findInterface: find = findInterface, admits } = this.options;
    const index = this.#addresses.push(undefined) - 1;
    let wasThere = false;
    return () => {
      let where: LightingInterface | undefined;
      for (const plan of plans) where ??= find(plan.interface);
      this.#addresses[index] = undefined;
      if (where === undefined) return undefined;
      if (this.#addresses.includes(where.address)) {
        this.#isDivided = true;
        return undefined;
      }
      wasThere ||= admits?.(where) !== false;
      if (!wasThere) return undefined;
      this.#addresses[index] = where.address;
      return where;
    };
  }
}
