/** What a gateway sends, laid out for those who prove things about it. */
import type { Program } from '../logic/form.ts';
import type { Gateway, TxMessage } from './gateway.ts';

export interface WriteStage {
  program: Program;
  /** Identifier, counter, check field, and the names of the outputs `send` and bytes. */
  message: TxMessage;
}

/** Every stage that writes a message: "a valid counter and check field on everything sent" is a property of each alone. */
export function writeStages(gateway: Gateway): WriteStage[] {
  return gateway.tx.map((message) => ({ program: gateway.stages[message.stage]!.program, message }));
}
