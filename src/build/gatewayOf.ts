/** The gateway of a build: its message plan and its guard, assembled. */
import { assembleGateway } from '../bridge/assemble.ts';
import type { Gateway } from '../bridge/gateway.ts';
import type { PinCue } from '../bridge/through.ts';
import { bindGuard } from '../guard/binding.ts';
import type { Build } from './model.ts';

/** Step where bridge.yaml is not there, in milliseconds. */
const STEP_MS = 10;

/**
 * Assembles the gateway that bridge.yaml and guard.yaml describe; a build with neither gives one that does nothing.
 * @throws BridgeError naming file and field where a plan cannot be carried out.
 */
export function gatewayOf(build: Build): Gateway {
  const stepMs = stepOf(build);
  const guards = build.guard ? [bindGuard(build.guard, build.dictionaries, stepMs).stage] : [];
  return assembleGateway({
    name: build.file.title,
    stepMs,
    buses: build.buses,
    dictionaries: build.dictionaries,
    bridge: build.bridge,
    guards,
  });
}

export function stepOf(build: Build): number {
  return build.bridge?.stepMs ?? STEP_MS;
}

/** What the cue sheets of a capture say about the gateway's pins: cues that bear a pin's name. */
export function pinCuesOf(build: Build, gateway: Gateway, captureName: string): PinCue[] {
  const pins = new Set(gateway.pins.map((pin) => pin.original));
  return build.cueSheets
    .filter((sheet) => sheet.capture === captureName)
    .flatMap((sheet) => sheet.cues)
    .filter((cue) => pins.has(cue.name))
    .map((cue) => ({ pin: cue.name, startS: cue.startS, endS: cue.endS }));
}
