/** The packages of a system description while it is written: each element once, with a short name of its own. */

import type { Written } from '../xml.ts';
import { ownData } from './ownData.ts';
import type { AutosarBus } from './write.ts';

/** Packages in the order in which they are written. */
const PACKAGES = [
  'Clusters',
  'Frames',
  'Pdus',
  'Signals',
  'SystemSignals',
  'Conversions',
  'Units',
  'BaseTypes',
  'Limits',
  'Protection',
  'Ecus',
] as const;

export type Package = (typeof PACKAGES)[number];

/** What of a message stands in the channel of its bus. */
export interface Triggering {
  element: (portRef: Written | null) => Written;
  /** Name of the unit that sends it. */
  sender: string | undefined;
  pdus: Written[];
  signals: Written[];
}

interface Unit {
  path: string;
  name: string;
  longName: Written | null;
  /** Frame ports by bus. */
  ports: Map<string, { connector: string; names: string[] }>;
}

export class Packages {
  readonly #elements = new Map<Package, Written[]>(PACKAGES.map((name) => [name, []]));
  readonly #names = new Map<string, Set<string>>();
  readonly #shared = new Map<string, string>();
  readonly #units = new Map<string, Unit>();

  /** Adds an element; `make` gets its short name. Returns the path by which it is referred to. */
  add(to: Package, wanted: string, make: (shortName: string) => Written): string {
    const name = this.shortName(to, wanted);
    this.#elements.get(to)?.push(make(name));
    return `/${to}/${name}`;
  }

  /** The same, once for all uses of equal `key`. */
  share(to: Package, key: string, wanted: string, make: (shortName: string) => Written): string {
    const whole = `${to} ${key}`;
    const path = this.#shared.get(whole) ?? this.add(to, wanted, make);
    this.#shared.set(whole, path);
    return path;
  }

  /** Letters, digits and _, beginning with a letter, once in its scope also where upper and lower case count alike. */
  shortName(scope: string, wanted: string): string {
    const names = this.#names.get(scope) ?? new Set();
    this.#names.set(scope, names);
    const plain = wanted
      .normalize('NFKD')
      .replace(/[^A-Za-z0-9]+/g, '_')
      .replace(/^_+|_+$/g, '')
      .slice(0, 100);
    const base = /^[A-Za-z]/.test(plain) ? plain : `N_${plain}`.replace(/_$/, '');
    let name = base;
    for (let n = 2; names.has(name.toLowerCase()); n++) name = `${base}_${n}`;
    names.add(name.toLowerCase());
    return name;
  }

  /** The short name that the cluster of a bus has, or will have. */
  clusterName(bus: string): string {
    const name = this.#shared.get(`cluster ${bus}`) ?? this.shortName('Clusters', bus);
    this.#shared.set(`cluster ${bus}`, name);
    return name;
  }

  /** Adds the cluster, when all its messages are there. */
  cluster({ dictionary, bitRateBps, dataBitRateBps }: AutosarBus, triggerings: readonly Triggering[]): void {
    this.#named('Clusters', this.clusterName(dictionary.bus), (name) => {
      const frames = triggerings.map(({ element, sender }) => {
        const port = sender === undefined ? null : this.#port(sender, dictionary.bus);
        return element(port);
      });
      const connectors = [...this.#units.values()].flatMap((unit) => {
        const at = unit.ports.get(dictionary.bus);
        return at === undefined ? [] : [at.connector];
      });
      const channel: Written = [
        'CAN-PHYSICAL-CHANNEL',
        [
          ['SHORT-NAME', 'Channel'],
          connectors.length === 0
            ? null
            : [
                'COMM-CONNECTORS',
                connectors.map(
                  (connector): Written => [
                    'COMMUNICATION-CONNECTOR-REF-CONDITIONAL',
                    [['COMMUNICATION-CONNECTOR-REF DEST="CAN-COMMUNICATION-CONNECTOR"', connector]],
                  ],
                ),
              ],
          ['FRAME-TRIGGERINGS', frames],
          ['I-SIGNAL-TRIGGERINGS', triggerings.flatMap((t) => t.signals)],
          ['PDU-TRIGGERINGS', triggerings.flatMap((t) => t.pdus)],
        ],
      ];
      const conditional: Written = [
        'CAN-CLUSTER-CONDITIONAL',
        [
          bitRateBps === undefined ? null : ['BAUDRATE', bitRateBps],
          ['PHYSICAL-CHANNELS', [channel]],
          ['PROTOCOL-NAME', 'CAN'],
          dataBitRateBps === undefined ? null : ['CAN-FD-BAUDRATE', dataBitRateBps],
        ],
      ];
      return [
        'CAN-CLUSTER',
        [
          ['SHORT-NAME', name],
          longName(dictionary.bus, name),
          // Spaces and odd signs may not outlive the name of an element.
          /^[\x21-\x7e]+$/.test(dictionary.bus) ? null : ownData({ bus: dictionary.bus }),
          ['CAN-CLUSTER-VARIANTS', [conditional]],
        ],
      ];
    });
  }

  #named(to: Package, name: string, make: (shortName: string) => Written): void {
    this.#elements.get(to)?.push(make(name));
  }

  written(): Written[] {
    for (const unit of this.#units.values()) this.#elements.get('Ecus')?.push(unitElement(unit));
    return [...this.#elements].flatMap(([name, elements]): Written[] =>
      elements.length === 0
        ? []
        : [
            [
              'AR-PACKAGE',
              [
                ['SHORT-NAME', name],
                ['ELEMENTS', elements],
              ],
            ],
          ],
    );
  }

  /** A reference to a new frame port of the unit on that bus. */
  #port(sender: string, bus: string): Written {
    let unit = this.#units.get(sender);
    if (unit === undefined) {
      const name = this.shortName('Ecus', sender);
      unit = { path: `/Ecus/${name}`, name, longName: longName(sender, name), ports: new Map() };
      this.#units.set(sender, unit);
    }
    let at = unit.ports.get(bus);
    if (at === undefined) {
      const connector = this.shortName(unit.path, `on ${bus}`);
      at = { connector: `${unit.path}/${connector}`, names: [] };
      unit.ports.set(bus, at);
    }
    const port = `Out${at.names.length + 1}`;
    at.names.push(port);
    return ['FRAME-PORT-REFS', [['FRAME-PORT-REF DEST="FRAME-PORT"', `${at.connector}/${port}`]]];
  }
}

/** The name for people, where the short name is not that. */
export function longName(text: string, shortName: string): Written | null {
  return text === shortName ? null : ['LONG-NAME', [['L-4 L="EN"', text]]];
}

export function described(note: string | undefined): Written | null {
  return note === undefined || note === '' ? null : ['DESC', [['L-2 L="EN"', note]]];
}

function unitElement(unit: Unit): Written {
  const controllers = [...unit.ports.values()].map(
    ({ connector }) => `${connector.slice(connector.lastIndexOf('/') + 1)}_controller`,
  );
  return [
    'ECU-INSTANCE',
    [
      ['SHORT-NAME', unit.name],
      unit.longName,
      [
        'COMM-CONTROLLERS',
        controllers.map((name): Written => ['CAN-COMMUNICATION-CONTROLLER', [['SHORT-NAME', name]]]),
      ],
      [
        'CONNECTORS',
        [...unit.ports.values()].map(
          ({ connector, names }, i): Written => [
            'CAN-COMMUNICATION-CONNECTOR',
            [
              ['SHORT-NAME', connector.slice(connector.lastIndexOf('/') + 1)],
              ['COMM-CONTROLLER-REF DEST="CAN-COMMUNICATION-CONTROLLER"', `${unit.path}/${controllers[i]}`],
              [
                'ECU-COMM-PORT-INSTANCES',
                names.map(
                  (name): Written => [
                    'FRAME-PORT',
                    [
                      ['SHORT-NAME', name],
                      ['COMMUNICATION-DIRECTION', 'OUT'],
                    ],
                  ],
                ),
              ],
            ],
          ],
        ),
      ],
    ],
  ];
}
