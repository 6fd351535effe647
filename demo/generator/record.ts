/** Makes one recording: drives the road, lets every unit send, and collects what the recorder sees. */
import { FLAG } from '../../src/can/frame.ts';
import { type Capture, CaptureBuilder } from '../../src/capture/store.ts';
import { arbitrate, type Seen, type Waiting } from './bus.ts';
import { TRAFFIC, type Traffic } from './messages/index.ts';
import { drive } from './motion.ts';
import { PayloadMaker } from './payloads.ts';
import { type Random, randomFor } from './random.ts';
import { perimeterRoad } from './road.ts';
import type { Scenario } from './scenario.ts';
import { BIT_RATE_BPS, BUS_NUMBER, type BusName, releases, UNITS } from './units.ts';
import { World } from './world.ts';

/** The recording of a scenario; the same seed gives the same bytes. */
export function record(scenario: Scenario, seed: number): Capture {
  const world = new World(scenario, drive(perimeterRoad(), scenario, seed));
  const all = scenario.buses.flatMap((bus) =>
    arbitrate(framesOf(bus, world, seed), BIT_RATE_BPS).map((frame): [Seen, number] => [
      frame,
      BUS_NUMBER[bus],
    ]),
  );
  all.sort(([a], [b]) => a.timeS - b.timeS);
  const builder = new CaptureBuilder(all.length);
  builder.originNs = scenario.originNs;
  for (const [{ timeS, id, flags, payload }, bus] of all) {
    builder.add(timeS, bus, id, flags, payload.length, payload, 0, payload.length);
  }
  return builder.finish();
}

/** A moment at which a unit has one of its messages ready. */
interface Due {
  readyS: number;
  line: Line;
}

interface Line {
  traffic: Traffic;
  maker: PayloadMaker;
  random: Random;
}

function framesOf(bus: BusName, world: World, seed: number): Waiting[] {
  const { scenario } = world;
  const due: Due[] = [];
  for (const traffic of TRAFFIC) {
    if (traffic.bus !== bus || scenario.absent.includes(traffic.unit)) continue;
    const random = randomFor(seed, `${scenario.capture} ${bus} ${traffic.message.name}`);
    const line = { traffic, maker: new PayloadMaker(traffic), random };
    for (const readyS of moments(traffic, scenario, random)) due.push({ readyS, line });
  }
  due.sort((a, b) => a.readyS - b.readyS);
  const frames: Waiting[] = [];
  for (const { readyS, line } of due) {
    const { traffic, maker, random } = line;
    world.seek(readyS - UNITS[traffic.unit].latencyS, random);
    const mischief = traffic.mischief?.(scenario, readyS) ?? null;
    if (mischief === 'missing') continue;
    const { id, extended } = traffic.message;
    frames.push({ readyS, id, flags: extended ? FLAG.extended : 0, payload: maker.next(world, mischief) });
  }
  return frames;
}

function moments(traffic: Traffic, scenario: Scenario, random: Random): number[] {
  const periodS = (traffic.message.periodMs as number) / 1000;
  // Messages of a unit start one after the other, as its tasks do.
  const place = TRAFFIC.filter((other) => other.unit === traffic.unit).indexOf(traffic);
  const times = [...releases(UNITS[traffic.unit], periodS, 0.0013 * place, scenario.durationS, random)];
  for (const event of scenario.events) {
    if (!traffic.onChange.includes(event.name)) continue;
    for (const t of [event.startS, event.endS]) {
      if (t < scenario.durationS) times.push(t + 0.004 + 0.006 * random.next());
    }
  }
  return times;
}
