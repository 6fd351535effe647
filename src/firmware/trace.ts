/** `gateway_trace.h` and `.c`: every value of a step by name, for tests, a debugger or a serial line; no part of the gateway. */
import type { Gateway } from '../bridge/gateway.ts';
import type { GatewayRun } from '../bridge/runGateway.ts';
import { room } from './layout.ts';

/** Names of the values in the order of the trace: of each stage its outputs, then its states. */
export function traceNames(gateway: Gateway): string[] {
  return gateway.stages.flatMap(({ program }) => [
    ...program.outputs.map((o) => `${program.name}.${o.name}`),
    ...program.states.map((s) => `${program.name}.${s.name} (kept)`),
  ]);
}

/** The same values of a run, after its last step, as 32-bit words. */
export function traceValues(run: GatewayRun, values: Uint32Array): void {
  let at = 0;
  for (let k = 0; k < run.gateway.stages.length; k++) {
    const outputs = run.outputs(k);
    for (let i = 0; i < outputs.length; i++) values[at++] = outputs[i] as number;
    const state = run.state(k);
    for (let i = 0; i < state.length; i++) values[at++] = state[i] as number;
  }
}

export function traceHeader(gateway: Gateway, head: string): string {
  const count = traceNames(gateway).length;
  return `${head}
#ifndef GATEWAY_TRACE_H
#define GATEWAY_TRACE_H

#include "gateway.h"

#define GATEWAY_TRACE_COUNT ${count}
#define GATEWAY_TRACE_ROOM ${room(count)}

extern const char *const gateway_trace_names[GATEWAY_TRACE_ROOM];

/* Every value of the last step as 32-bit words, in the order of the names. */
void gateway_trace(const struct gateway *g, uint32_t values[GATEWAY_TRACE_ROOM]);

#endif
`;
}

export function traceCode(gateway: Gateway, head: string): string {
  const names = traceNames(gateway);
  const rows = names.length === 0 ? ['    ""'] : names.map((name) => `    "${name}"`);
  const lines = gateway.stages.flatMap(({ program: { name, outputs, states } }) => [
    ...outputs.map((o) => `g->${name}.out.${o.name}`),
    ...states.map((s) => `g->${name}.state.${s.name}`),
  ]);
  const body = lines.map((line, i) => `    values[${i}] = (uint32_t)${line};`);
  if (body.length === 0) body.push('    (void)g;', '    (void)values;');
  return `${head}
#include "gateway_trace.h"

const char *const gateway_trace_names[GATEWAY_TRACE_ROOM] = {
${rows.join(',\n')}
};

void gateway_trace(const struct gateway *g, uint32_t values[GATEWAY_TRACE_ROOM])
{
${body.join('\n')}
}
`;
}
