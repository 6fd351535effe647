/** The time axis of a capture with all that belongs to it: lanes, frames, cues. */
import { useEffect, useState } from 'preact/hooks';
import type { BuildReply } from '../../../src/server/api.ts';
import { Note, Section } from '../Section.tsx';
import { Answered } from '../Waiting.tsx';
import type { AxisCue } from './axis.ts';
import { CueEditor } from './CueEditor.tsx';
import type { Lane } from './data.ts';
import { FrameList } from './FrameList.tsx';
import { LaneChoice } from './LaneChoice.tsx';
import { laneOfText } from './lanes.ts';
import { Timeline } from './Timeline.tsx';
import { useAxis, useRest } from './useAxis.ts';
import { useCues } from './useCues.ts';

interface WholeRecordingProps {
  number: string;
  capture: string;
  build: BuildReply;
  /** A lane that the address names. */
  lane: string | null;
  /** The recording is drawn: what else the sheet shows may be asked for now. */
  drawn: () => void;
}

/** Lanes chosen for a capture, as long as the page is open. */
const chosenLanes = new Map<string, Lane[]>();

export function WholeRecording({ number, capture, build, lane, drawn }: WholeRecordingProps) {
  const axis = useAxis(capture);
  useRest(axis);
  const isThere = axis.overview.whole !== null;
  const [lanes, setLanes] = useState<Lane[]>(chosenLanes.get(capture) ?? []);
  useEffect(() => {
    const named = lane === null ? null : laneOfText(lane);
    if (named) setLanes((all) => [...all.filter(({ query }) => query !== named.query), named]);
  }, [lane]);
  const { reply, work } = useCues(axis, isThere ? 'now' : 'later');
  useEffect(() => {
    chosenLanes.set(capture, lanes);
    axis.setLanes(lanes);
  }, [axis, lanes]);
  useEffect(() => {
    if (isThere || axis.error) drawn();
  }, [isThere, axis.error]);
  const [marked, setMarked] = useState<{ startS: number; endS: number } | null>(null);
  const onMarked = () => {
    if (axis.mark?.endS != null) setMarked({ startS: axis.mark.startS, endS: axis.mark.endS });
  };
  const edgeMoved = ({ file, index, ...cue }: AxisCue) => {
    const { name, startS, endS, level, note } = cue;
    const moved = {
      name,
      startS,
      endS,
      ...(level !== undefined && { level }),
      ...(note !== undefined && { note }),
    };
    void work.change(
      work.sheetOf({ file, index, ...cue }),
      { do: 'change', index, cue: moved },
      `Cue “${name}” has its new edge.`,
    );
  };
  return (
    <>
      <Section
        notes={
          <>
            <Note title="Signals over time">
              <LaneChoice build={build} lanes={lanes} setLanes={setLanes} />
            </Note>
            <Note title="Cues">
              What was done and when. Drag over the band above the lanes to add one, drag an edge to move it.
            </Note>
          </>
        }
      >
        <Timeline number={number} axis={axis} marked={onMarked} edgeMoved={edgeMoved} />
        <FrameList axis={axis} />
      </Section>
      {isThere && (
        <Section title="Cues">
          <Answered reply={reply}>
            {(value) => <CueEditor axis={axis} marked={marked} reply={value} work={work} />}
          </Answered>
        </Section>
      )}
    </>
  );
}
