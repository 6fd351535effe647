/** Which signals are drawn: chosen from the dictionaries, or any field by its place. */
import { useEffect, useId, useState } from 'preact/hooks';
import type { BuildReply, DictionaryReply } from '../../../src/server/api.ts';
import { useReply } from '../../data/use.ts';
import type { Lane } from './data.ts';
import { laneAt, lanesOf } from './lanes.ts';

interface LaneChoiceProps {
  build: BuildReply;
  lanes: Lane[];
  setLanes: (lanes: Lane[]) => void;
}

export function LaneChoice({ build, lanes, setLanes }: LaneChoiceProps) {
  const id = useId();
  const [byPlace, setByPlace] = useState(false);
  const buses = build.build?.buses ?? [];
  const known = build.build?.dictionaries ?? [];
  const add = (lane: Lane) => {
    if (!lanes.some(({ query }) => query === lane.query)) setLanes([...lanes, lane]);
  };
  return (
    <div class="lane-choice">
      {known.length > 0 && (
        <p>
          <label htmlFor={id}>Draw a signal</label>
          <Signals
            id={id}
            buses={buses.filter(({ name }) => known.some(({ bus }) => bus === name))}
            add={add}
          />
        </p>
      )}
      {lanes.length > 0 && (
        <ul>
          {lanes.map((lane) => (
            <li key={lane.query}>
              {lane.name}{' '}
              <button
                type="button"
                onClick={() => setLanes(lanes.filter((other) => other !== lane))}
                aria-label={`Take ${lane.name} away`}
              >
                Take away
              </button>
            </li>
          ))}
        </ul>
      )}
      <button type="button" aria-expanded={byPlace} onClick={() => setByPlace(!byPlace)}>
        A field by its place {byPlace ? '–' : '…'}
      </button>
      {byPlace && <ByPlace add={add} />}
    </div>
  );
}

type Bus = NonNullable<BuildReply['build']>['buses'][number];

/** The dictionaries are asked for one by one; a bus without one is not among them. */
function Signals({ id, buses, add }: { id: string; buses: Bus[]; add: (lane: Lane) => void }) {
  const [found, setFound] = useState<Record<string, Lane[]>>({});
  const groups = buses.map((bus) => ({ bus, lanes: found[bus.name] ?? [] }));
  return (
    <>
      {buses.map((bus) => (
        <Dictionary
          key={bus.name}
          bus={bus}
          found={(lanes) => setFound((all) => ({ ...all, [bus.name]: lanes }))}
        />
      ))}
      <select
        id={id}
        value=""
        onChange={(event) => {
          const select = event.currentTarget as HTMLSelectElement;
          const lane = groups.flatMap(({ lanes }) => lanes).find(({ query }) => query === select.value);
          select.value = '';
          if (lane) add(lane);
        }}
      >
        <option value="">choose …</option>
        {groups.map(({ bus, lanes }) => (
          <optgroup key={bus.name} label={`bus ${bus.name}`}>
            {lanes.map((lane) => (
              <option key={lane.query} value={lane.query}>
                {lane.name} ({lane.of})
              </option>
            ))}
          </optgroup>
        ))}
      </select>
    </>
  );
}

function Dictionary({ bus, found }: { bus: Bus; found: (lanes: Lane[]) => void }) {
  const reply = useReply<DictionaryReply>(`/api/dictionary/${encodeURIComponent(bus.name)}`);
  const value = reply.state === 'here' ? reply.value : null;
  useEffect(() => {
    if (value !== null) found(value.dictionary === null ? [] : lanesOf(value.dictionary, bus));
  }, [value]);
  return null;
}

function ByPlace({ add }: { add: (lane: Lane) => void }) {
  const onSubmit = (event: SubmitEvent) => {
    event.preventDefault();
    const data = new FormData(event.currentTarget as HTMLFormElement);
    const text = (name: string) => String(data.get(name) ?? '').trim();
    const id = text('id').toUpperCase();
    const signed = text('signed');
    add(
      laneAt({
        bus: Number(text('bus')),
        id,
        ext: id.length > 3 ? 1 : 0,
        start: Number(text('start')),
        length: Number(text('length')),
        byteOrder: text('order') === 'big' ? 'big' : 'little',
        signed: signed === 'magnitude' ? signed : signed === 'true',
      }),
    );
  };
  return (
    <form class="by-place" aria-label="A field by its place" onSubmit={onSubmit}>
      <label>
        bus <input name="bus" type="number" min="0" max="255" defaultValue="0" required />
      </label>
      <label>
        identifier, 3 or 8 digits
        <input name="id" pattern="[0-7][0-9A-Fa-f]{2}|[01][0-9A-Fa-f]{7}" required />
      </label>
      <label>
        start bit <input name="start" type="number" min="0" max="511" defaultValue="0" required />
      </label>
      <label>
        bits <input name="length" type="number" min="1" max="64" defaultValue="8" required />
      </label>
      <label>
        order
        <select name="order">
          <option>little</option>
          <option>big</option>
        </select>
      </label>
      <label>
        sign
        <select name="signed">
          <option value="false">none</option>
          <option value="true">two’s complement</option>
          <option value="magnitude">sign and magnitude</option>
        </select>
      </label>
      <button type="submit">Draw it</button>
    </form>
  );
}
