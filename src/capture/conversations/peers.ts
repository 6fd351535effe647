/** Who talks with whom by ISO 15765-2: identifiers of the standards, and pairs that a person names. */
import { FLAG } from '../../can/frame.ts';
import { isoTpAddress } from '../../can/transport/isotpAddress.ts';

/** Two identifiers that talk with each other, as a person names them where no standard does. */
export interface IsoTpPair {
  /** As `idKey` gives them. */
  request: number;
  answer: number;
  /** 1 where an address byte comes before the frame type (extended and mixed addressing). */
  typeAt: 0 | 1;
}

export interface Peering {
  /** Whether the identifier is given, by a standard or a person; else it is only tried. */
  given: boolean;
  typeAt: 0 | 1;
  /** To all units at once. */
  functional: boolean;
  /** Identifiers (`idKey`) of the other side; none where they are not known, or are all. */
  peers: readonly number[];
}

export class PeerBook {
  readonly #byKey = new Map<number, Peering>();
  readonly #named = new Set<number>();

  constructor(pairs: readonly IsoTpPair[]) {
    const peers = new Map<number, { typeAt: 0 | 1; peers: number[] }>();
    const enter = (key: number, peer: number, typeAt: 0 | 1) => {
      const entry = peers.get(key) ?? { typeAt, peers: [] };
      entry.peers.push(peer);
      peers.set(key, entry);
    };
    for (const { request, answer, typeAt } of pairs) {
      enter(request, answer, typeAt);
      enter(answer, request, typeAt);
    }
    for (const [key, entry] of peers) {
      this.#named.add(key);
      this.#byKey.set(key, { given: true, functional: false, ...entry });
    }
  }

  /** Whether a person named the identifier. */
  isNamed(key: number): boolean {
    return this.#named.has(key);
  }

  of(key: number): Peering {
    const known = this.#byKey.get(key);
    if (known) return known;
    const extended = key >= 0x8000_0000 ? FLAG.extended : 0;
    const standard = isoTpAddress(key & 0x1fff_ffff, extended);
    const bit = extended ? 0x8000_0000 : 0;
    const made: Peering = {
      given: standard !== null,
      typeAt: standard?.typeAt ?? 0,
      functional: standard?.to === 'functional',
      peers: standard && standard.peer >= 0 ? [(standard.peer | bit) >>> 0] : [],
    };
    this.#byKey.set(key, made);
    return made;
  }
}
