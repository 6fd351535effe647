/** A signal as AUTOSAR elements: I-SIGNAL, SYSTEM-SIGNAL, base type, conversion, unit, limits. */
import type { Signal } from '../model.ts';
import { numberText } from '../tables/write.ts';
import type { Written } from '../xml.ts';
import { ownData } from './ownData.ts';
import { described, longName, type Packages } from './packages.ts';

const ENCODINGS = { unsigned: 'NONE', signed: '2C', magnitude: 'SM' } as const;

/** Adds the elements; returns the path of the I-SIGNAL. */
export function signalElements(signal: Signal, packages: Packages, own: Record<string, unknown>): string {
  const { length, signed, unit } = signal;
  const sign = signed === 'magnitude' ? signed : signed ? 'signed' : 'unsigned';
  const unitPath =
    unit === ''
      ? undefined
      : packages.share('Units', unit, unit, (name) => [
          'UNIT',
          [
            ['SHORT-NAME', name],
            ['DISPLAY-NAME', unit],
          ],
        ]);
  const conversion = conversionPath(signal, packages, unitPath);
  const limits = limitsPath(signal, packages);
  const system = packages.add('SystemSignals', signal.name, (name) => [
    'SYSTEM-SIGNAL',
    [
      ['SHORT-NAME', name],
      longName(signal.name, name),
      described(signal.note),
      ['DYNAMIC-LENGTH', 'false'],
      properties('PHYSICAL-PROPS', [
        ['COMPU-METHOD-REF DEST="COMPU-METHOD"', conversion],
        limits === undefined ? null : ['DATA-CONSTR-REF DEST="DATA-CONSTR"', limits],
        unitPath === undefined ? null : ['UNIT-REF DEST="UNIT"', unitPath],
      ]),
    ],
  ]);
  return iSignal(signal.name, length, sign, system, packages, own);
}

/** A counter or check field: others see a number there, `own` says what it is. */
export function fieldSignal(
  name: string,
  field: { length: number },
  packages: Packages,
  own: Record<string, unknown>,
): string {
  const system = packages.add('SystemSignals', name, (short) => [
    'SYSTEM-SIGNAL',
    [['SHORT-NAME', short], longName(name, short), ['DYNAMIC-LENGTH', 'false']],
  ]);
  return iSignal(name, field.length, 'unsigned', system, packages, own);
}

function iSignal(
  name: string,
  length: number,
  sign: keyof typeof ENCODINGS,
  system: string,
  packages: Packages,
  own: Record<string, unknown>,
): string {
  const base = packages.share('BaseTypes', `${sign} ${length}`, `${sign}${length}`, (short) => [
    'SW-BASE-TYPE',
    [
      ['SHORT-NAME', short],
      ['CATEGORY', 'FIXED_LENGTH'],
      ['BASE-TYPE-SIZE', length],
      ['BASE-TYPE-ENCODING', ENCODINGS[sign]],
    ],
  ]);
  return packages.add('Signals', name, (short) => [
    'I-SIGNAL',
    [
      ['SHORT-NAME', short],
      longName(name, short),
      ownData(own),
      ['DATA-TYPE-POLICY', 'OVERRIDE'],
      ['I-SIGNAL-TYPE', 'PRIMITIVE'],
      ['LENGTH', length],
      properties('NETWORK-REPRESENTATION-PROPS', [['BASE-TYPE-REF DEST="SW-BASE-TYPE"', base]]),
      ['SYSTEM-SIGNAL-REF DEST="SYSTEM-SIGNAL"', system],
    ],
  ]);
}

function properties(tag: string, inner: (Written | null)[]): Written {
  return [tag, [['SW-DATA-DEF-PROPS-VARIANTS', [['SW-DATA-DEF-PROPS-CONDITIONAL', inner]]]]];
}

/** phys = (offset + scale × raw) / 1, and one scale for each named value. */
function conversionPath(signal: Signal, packages: Packages, unitPath: string | undefined): string {
  const { scale, offset, values } = signal;
  const names = Object.entries(values ?? {});
  const linear = scale !== 1 || offset !== 0 || names.length === 0;
  const category = names.length === 0 ? 'LINEAR' : linear ? 'SCALE_LINEAR_AND_TEXTTABLE' : 'TEXTTABLE';
  const scales: Written[] = names.map(([raw, text]) => [
    'COMPU-SCALE',
    [
      ['LOWER-LIMIT INTERVAL-TYPE="CLOSED"', raw],
      ['UPPER-LIMIT INTERVAL-TYPE="CLOSED"', raw],
      ['COMPU-CONST', [['VT', text]]],
    ],
  ]);
  if (linear)
    scales.unshift([
      'COMPU-SCALE',
      [
        [
          'COMPU-RATIONAL-COEFFS',
          [
            [
              'COMPU-NUMERATOR',
              [
                ['V', numberText(offset)],
                ['V', numberText(scale)],
              ],
            ],
            ['COMPU-DENOMINATOR', [['V', 1]]],
          ],
        ],
      ],
    ]);
  const key = JSON.stringify([numberText(scale), numberText(offset), names, unitPath]);
  return packages.share('Conversions', key, signal.name, (name) => [
    'COMPU-METHOD',
    [
      ['SHORT-NAME', name],
      ['CATEGORY', category],
      unitPath === undefined ? null : ['UNIT-REF DEST="UNIT"', unitPath],
      ['COMPU-INTERNAL-TO-PHYS', [['COMPU-SCALES', scales]]],
    ],
  ]);
}

function limitsPath({ name, min, max }: Signal, packages: Packages): string | undefined {
  if (min === undefined && max === undefined) return undefined;
  const limit = (tag: string, value: number | undefined): Written | null =>
    value === undefined ? null : [`${tag} INTERVAL-TYPE="CLOSED"`, numberText(value)];
  const key = `${min === undefined ? '' : numberText(min)} ${max === undefined ? '' : numberText(max)}`;
  return packages.share('Limits', key, name, (short) => [
    'DATA-CONSTR',
    [
      ['SHORT-NAME', short],
      [
        'DATA-CONSTR-RULES',
        [['DATA-CONSTR-RULE', [['PHYS-CONSTRS', [limit('LOWER-LIMIT', min), limit('UPPER-LIMIT', max)]]]]],
      ],
    ],
  ]);
}
