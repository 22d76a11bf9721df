import { DEFAULT_OSC_LIMITS } from '../../protocols/osc/decode.js';
import { IDENTITY } from '../../stage/rotation.js';
import { vec3 } from '../../stage/vector.js';
import type { InputPlan, OperatorPlan, PairMachinePlan } from '../model/model.js';
import type { ShowFile } from '../schema/schema.js';

/** Orders come in like positions, at a socket of their own, the last of the inputs. */
export function operatorInputs({ operator }: ShowFile): InputPlan[] {
  if (operator === undefined) return [];
  return [
    {
      carries: 'orders',
      name: 'operator',
      listen: operator.listen,
      port: operator.port,
      allow: operator.allow,
      maxDatagramBytes: DEFAULT_OSC_LIMITS.maxDatagramBytes,
      timeTags: 'due',
      isStamped: false,
      routes: [],
      psn: undefined,
      origin: vec3(0, 0, 0),
      rotation: IDENTITY,
      scale: 1,
    },
  ];
}

export function resolveOperator({ operator, inputs, outputs }: ShowFile): OperatorPlan | undefined {
  if (operator === undefined) return undefined;
  return {
    input: Object.keys(inputs).length,
    enableTimeoutS: operator.enableTimeout,
    standby: machinesOf(operator.standby, Object.keys(outputs)),
    main: machinesOf(operator.main, Object.keys(outputs)),
    desk: operator.desk,
  };
}

function machinesOf(
  given: NonNullable<ShowFile['operator']>['main'] = {},
  outputs: readonly string[],
): PairMachinePlan[] {
  if (typeof given === 'string') return [{ address: given, outputs }];
  return [...new Set(Object.values(given))].map(address => ({
    address,
    outputs: Object.keys(given).filter(name => given[name] === address),
  }));
}
