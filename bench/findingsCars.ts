/** What findings find on made-up cars with known layouts (bench/cars/), of seeds that were not used while they were built. */
import { findSteps } from '../src/findings/find.ts';
import { madeCar } from './cars/car.ts';
import { addCar, type CarScore, emptyScore, f1, signF } from './cars/scoreCars.ts';
import { claimLines } from './claims.ts';

const FIRST_SEED = 901;
const CARS = 8;
const SECONDS = 60;

/** Prints F1, byte order, sign, selectors and how far stated probabilities hold. */
export function carsBench(firstSeed = FIRST_SEED): void {
  const all = emptyScore();
  for (const [what, multiplexed] of [
    ['plain messages', 0],
    ['a third multiplexed', 0.33],
  ] as const) {
    const score = emptyScore();
    let seconds = 0;
    for (let k = 0; k < CARS; k++) {
      const seed = firstSeed + k + (multiplexed > 0 ? 100 : 0);
      const car = madeCar(seed, { seconds: SECONDS, messages: 12, multiplexed });
      const started = performance.now();
      const steps = findSteps(car.capture);
      let step = steps.next();
      while (!step.done) step = steps.next();
      seconds += (performance.now() - started) / 1000;
      addCar(score, car, step.value);
      addCar(all, car, step.value);
    }
    console.log(
      `${CARS} made-up cars, ${SECONDS} s, ${what}, seeds from ${firstSeed + (multiplexed > 0 ? 100 : 0)}: ${seconds.toFixed(1)} s`,
    );
    console.log(`  ${words(score)}`);
  }
  console.log('made-up cars: stated probability of a field, and share that is right:');
  for (const line of claimLines(all.claims)) console.log(line);
}

function words(s: CarScore): string {
  return [
    `cut: ${s.right} right of ${s.foundFields} found and ${s.trueFields} true, F1 ${f1(s).toFixed(3)}`,
    `byte order right in ${s.rightOrder} of ${s.multiByte}`,
    `sign F ${signF(s).toFixed(3)} (${s.sign.hits} right, ${s.sign.falses} false, ${s.sign.misses} missed; sign bit of its own ${s.rightMagnitudes} of ${s.magnitudes})`,
    `selectors ${s.rightSelectors}/${s.selectors}/${s.falseSelectors}`,
  ].join('; ');
}
