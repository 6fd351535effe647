import { expect, test } from 'vitest';
import { busLoad } from '../../../src/dossier/figures/index.ts';
import { expectPicture } from './picture.ts';
import { emptyDocument, twoBuses } from './samples.ts';

const document = emptyDocument();

test('bus load is a share of the bit rate, with mean and peak in figures', async () => {
  const figure = busLoad(twoBuses, { document });
  expect(figure.getAttribute('aria-label')).toBe(
    'Bus load over time: van mean 35.2 %, peak 42 %; column mean 12.1 %, peak 12.2 %',
  );
  await expectPicture(figure, 'bus-load');
});

test('where a bit rate is unknown all lanes are in kbit/s', () => {
  const buses = twoBuses.buses.map((bus, i) => (i === 0 ? { ...bus, bitRateBps: null } : bus));
  expect(busLoad({ ...twoBuses, buses }, { document }).getAttribute('aria-label')).toContain(
    'van mean 176.2 kbit/s',
  );
});
