/** Bit rates of the buses of recordings that lie in a build: `buses.yaml` says them. */
import { loadBuild } from '../build/load.ts';
import { buildAround } from './inputs.ts';
import { grouped } from './print.ts';

export interface BusRates {
  /** Bits per second by bus number. */
  bitRates: Map<number, number>;
  /** Of the data phase of CAN FD, where the build says one. */
  dataBitRates: Map<number, number>;
}

/**
 * What the builds of these recordings say, told on standard error; nothing where one of them lies in none, since the
 * recordings are put end to end and the buses of that one are not known. Builds that disagree on a bus leave it out.
 */
export async function ratesOfBuilds(paths: readonly string[]): Promise<BusRates> {
  const folders = paths.map(buildAround);
  const rates: BusRates = { bitRates: new Map(), dataBitRates: new Map() };
  if (folders.includes(null)) return rates;
  const against = new Set<number>();
  for (const folder of new Set(folders as string[])) {
    for (const { number, bitRateBps, dataBitRateBps } of (await loadBuild(folder)).build?.buses ?? []) {
      const known = rates.bitRates.get(number) ?? bitRateBps;
      const knownData = rates.dataBitRates.get(number) ?? dataBitRateBps;
      if (known !== bitRateBps || knownData !== dataBitRateBps) against.add(number);
      rates.bitRates.set(number, bitRateBps);
      if (dataBitRateBps !== undefined) rates.dataBitRates.set(number, dataBitRateBps);
    }
  }
  for (const bus of against) {
    rates.bitRates.delete(bus);
    rates.dataBitRates.delete(bus);
    process.stderr.write(`note: the builds give bus ${bus} different bit rates; name it with --bit-rate\n`);
  }
  const told = [...rates.bitRates].map(([bus, rate]) => `bus ${bus} ${grouped(rate)}`);
  if (told.length > 0) process.stderr.write(`bit rates from buses.yaml, bit/s: ${told.join(', ')}\n`);
  return rates;
}
