/** End-to-end protection as AUTOSAR elements: a signal group with its transformer and data IDs. */
import type { Message } from '../model.ts';
import type { Written } from '../xml.ts';
import type { Packages } from './packages.ts';
import { profileOf } from './profileMatch.ts';
import type { ProfileSettings } from './profiles.ts';

/** Path of the signal group of a message whose counter and check field are a profile; null where they are none. */
export function protectionGroup(
  message: Message,
  signals: readonly string[],
  packages: Packages,
): string | null {
  const settings = profileOf(message);
  if (settings === null) return null;
  const { profile, mode, dataIds, bytes } = settings;
  const key = JSON.stringify([profile, mode, settings.crcOffset, settings.counterOffset]);
  const set = packages.share('Protection', key, profile, (name) => [
    'DATA-TRANSFORMATION-SET',
    [
      ['SHORT-NAME', name],
      [
        'DATA-TRANSFORMATIONS',
        [
          [
            'DATA-TRANSFORMATION',
            [
              ['SHORT-NAME', 'Chain'],
              ['DATA-TRANSFORMATION-KIND', 'SYMMETRIC'],
              [
                'TRANSFORMER-CHAIN-REFS',
                [['TRANSFORMER-CHAIN-REF DEST="TRANSFORMATION-TECHNOLOGY"', `/Protection/${name}/E2E`]],
              ],
            ],
          ],
        ],
      ],
      ['TRANSFORMATION-TECHNOLOGYS', [technology(settings)]],
    ],
  ]);
  const system = packages.add('SystemSignals', `${message.name} group`, (name) => [
    'SYSTEM-SIGNAL-GROUP',
    [['SHORT-NAME', name]],
  ]);
  return packages.add('Signals', `${message.name} group`, (name) => [
    'I-SIGNAL-GROUP',
    [
      ['SHORT-NAME', name],
      [
        'COM-BASED-SIGNAL-GROUP-TRANSFORMATIONS',
        [
          [
            'DATA-TRANSFORMATION-REF-CONDITIONAL',
            [['DATA-TRANSFORMATION-REF DEST="DATA-TRANSFORMATION"', `${set}/Chain`]],
          ],
        ],
      ],
      ['I-SIGNAL-REFS', signals.map((path): Written => ['I-SIGNAL-REF DEST="I-SIGNAL"', path])],
      ['SYSTEM-SIGNAL-GROUP-REF DEST="SYSTEM-SIGNAL-GROUP"', system],
      ['TRANSFORMATION-I-SIGNAL-PROPSS', [properties(`${set}/E2E`, dataIds, bytes)]],
    ],
  ]);
}

function technology({ profile, mode, crcOffset, counterOffset, offset }: ProfileSettings): Written {
  const placed = profile === 'PROFILE_01' || profile === 'PROFILE_11';
  const description: (Written | null)[] = [
    mode === '' ? null : ['DATA-ID-MODE', mode],
    ['PROFILE-NAME', profile],
    placed ? ['COUNTER-OFFSET', counterOffset] : null,
    placed ? ['CRC-OFFSET', crcOffset] : null,
    placed ? null : ['OFFSET', offset],
  ];
  return [
    'TRANSFORMATION-TECHNOLOGY',
    [
      ['SHORT-NAME', 'E2E'],
      ['PROTOCOL', 'E2E'],
      ['TRANSFORMATION-DESCRIPTIONS', [['END-TO-END-TRANSFORMATION-DESCRIPTION', description]]],
      ['TRANSFORMER-CLASS', 'SAFETY'],
    ],
  ];
}

function properties(transformer: string, dataIds: readonly number[], bytes: number): Written {
  return [
    'END-TO-END-TRANSFORMATION-I-SIGNAL-PROPS',
    [
      [
        'END-TO-END-TRANSFORMATION-I-SIGNAL-PROPS-VARIANTS',
        [
          [
            'END-TO-END-TRANSFORMATION-I-SIGNAL-PROPS-CONDITIONAL',
            [
              ['TRANSFORMER-REF DEST="TRANSFORMATION-TECHNOLOGY"', transformer],
              ['DATA-IDS', dataIds.map((id): Written => ['DATA-ID', id])],
              ['DATA-LENGTH', 8 * bytes],
            ],
          ],
        ],
      ],
    ],
  ];
}
