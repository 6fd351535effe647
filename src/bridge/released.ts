/** The bench form of a gateway: everything runs, nothing that moves is ever ordered. */
import type { Gateway } from './gateway.ts';

/**
 * The same gateway with every actuator output of its guards replaced by the value at which it lets go, for every stage
 * that reads it. The guards still run, so that modes and causes can be watched.
 */
export function releasedGateway(gateway: Gateway): Gateway {
  return {
    ...gateway,
    stages: gateway.stages.map((stage) => ({
      ...stage,
      sources: stage.sources.map((source) => {
        if (source.from !== 'stage') return source;
        const held = gateway.actuators.find((a) => a.stage === source.stage && a.output === source.output);
        return held ? { from: 'fixed', value: held.released } : source;
      }),
    })),
  };
}
