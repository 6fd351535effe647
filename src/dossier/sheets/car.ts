/** The car and its units: figures of the host, the drawing of buses and units, who hangs where. */
import { buildDrawing } from '../figures/index.ts';
import { type Html, html } from '../html.ts';
import type { DossierInput } from '../input.ts';
import { facts, figureBlock, type Numbering, note, sheet, table } from '../sheet.ts';
import { measure } from '../words.ts';

export const carTitle = 'The car and its units';

export function carSheet(input: DossierInput, numbering: Numbering, document: Document, width: number): Html {
  const { host, buses, units } = input;
  const number = numbering.sheet();
  const drawing = buildDrawing({ title: input.title, buses, units }, { document, width });
  return sheet({
    number,
    title: carTitle,
    lead: `${host.name} as driven, and the parts that were put on its buses.`,
    notes: [note('Source', 'build.yaml, buses.yaml and units.yaml of the build.')],
    body: html`<h3>Host</h3>
${facts([
  ['name', host.name],
  ['mass, as driven', measure(host.massKg, 'kg')],
  ['yaw inertia', measure(host.yawInertiaKgm2, 'kg·m²')],
  ['wheelbase', measure(host.wheelbaseM, 'm')],
  ['centre of gravity behind the front axle', measure(host.cgToFrontM, 'm')],
  ['cornering stiffness, front axle', measure(host.frontStiffnessNPerRad, 'N/rad')],
  ['cornering stiffness, rear axle', measure(host.rearStiffnessNPerRad, 'N/rad')],
  ['steering ratio', measure(host.steeringRatio, '')],
  ['width without mirrors', measure(host.widthM, 'm')],
])}
<h3>Buses and units</h3>
${figureBlock(numbering.figure(), drawing, 'Buses as double lines; units hang on them; a unit between buses joins them.')}
${table(
  [
    { title: 'bus' },
    { title: 'number in captures', kind: 'number' },
    { title: 'bit rate', kind: 'number' },
    { title: 'note', kind: 'wide' },
  ],
  buses.map((bus) => [bus.name, bus.number, rate(bus.bitRateBps, bus.dataBitRateBps), bus.note ?? '']),
)}
${table(
  [
    { title: 'unit' },
    { title: 'role' },
    { title: 'part' },
    { title: 'buses' },
    { title: 'note', kind: 'wide' },
  ],
  units.map((unit) => [unit.name, unit.role, unit.part, unit.buses.join(', '), unit.note ?? '']),
)}`,
  });
}

function rate(nominal: number, data: number | undefined): string {
  const kbit = (bps: number) => measure(bps / 1000, 'kbit/s');
  return data === undefined ? kbit(nominal) : `${kbit(nominal)}, data ${kbit(data)}`;
}
