/** Cue sheets as patterns over time: each name by itself, families of levels, and pairs of opposites. */
import type { Cue } from './model.ts';

export interface Window {
  startS: number;
  endS: number;
  level: number;
}

export interface Pattern {
  name: string;
  /** Windows by recording. Levels are ±1 for opposites, the noted levels where they differ, else 1. */
  windows: Window[][];
  /** Whether levels differ: the order of the values is then expected to follow them. */
  graded: 'no' | 'levels' | 'opposites';
}

const LEVEL_WORDS = new Map([
  ['quarter', 0.25],
  ['light', 0.3],
  ['half', 0.5],
  ['full', 1],
]);
const OPPOSITES = [
  ['left', 'right'],
  ['up', 'down'],
  ['forward', 'backward'],
  ['forwards', 'backwards'],
] as const;

/** All patterns of the sheets, in the order in which names first appear; sheets in the order of the recordings. */
export function patternsOf(sheets: readonly (readonly Cue[])[]): Pattern[] {
  const names = [...new Set(sheets.flatMap((cues) => cues.map((c) => c.name)))];
  return [
    ...names.map((name) => plain(name, sheets)),
    ...families(names).map((family) => familyPattern(family, sheets)),
    ...opposites(names).map((pair) => oppositePattern(pair, sheets)),
  ];
}

function plain(name: string, sheets: readonly (readonly Cue[])[]): Pattern {
  const cues = sheets.map((sheet) => sheet.filter((c) => c.name === name));
  const levels = cues.flat().map((c) => c.level);
  const graded = levels.every((l) => l !== undefined) && new Set(levels).size > 1;
  return {
    name,
    graded: graded ? 'levels' : 'no',
    windows: cues.map((list) => list.map((c) => windowOf(c, graded ? (c.level as number) : 1))),
  };
}

interface Family {
  name: string;
  members: { name: string; level: number }[];
}

/** Names that differ in a word of level only: "brake half", "brake full", "accelerator 30 %". */
function families(names: readonly string[]): Family[] {
  const byStem = new Map<string, Family>();
  for (const name of names) {
    const found = levelIn(name);
    if (!found) continue;
    const family = byStem.get(found.stem) ?? { name: found.stem, members: [] };
    family.members.push({ name, level: found.level });
    byStem.set(found.stem, family);
  }
  return [...byStem.values()].filter(({ members }) => new Set(members.map((m) => m.level)).size > 1);
}

function levelIn(name: string): { stem: string; level: number } | null {
  const percent = /^(.*?)\s*(\d{1,3})\s*%\s*$/.exec(name);
  if (percent?.[1]) return { stem: percent[1], level: Number(percent[2]) / 100 };
  const words = name.split(/\s+/);
  const at = words.findIndex((word) => LEVEL_WORDS.has(word.toLowerCase()));
  if (at < 0 || words.length < 2) return null;
  return {
    stem: words.filter((_, i) => i !== at).join(' '),
    level: LEVEL_WORDS.get((words[at] as string).toLowerCase()) as number,
  };
}

function familyPattern(family: Family, sheets: readonly (readonly Cue[])[]): Pattern {
  const level = new Map(family.members.map((m) => [m.name, m.level]));
  return {
    name: family.name,
    graded: 'levels',
    windows: sheets.map((sheet) =>
      sheet.filter((c) => level.has(c.name)).map((c) => windowOf(c, level.get(c.name) as number)),
    ),
  };
}

interface Pair {
  name: string;
  plus: string;
  minus: string;
}

/** Names that differ in one word and its opposite. */
function opposites(names: readonly string[]): Pair[] {
  const there = new Set(names);
  return names.flatMap((name) =>
    OPPOSITES.flatMap(([plus, minus]) => {
      const words = name.split(/\s+/);
      const at = words.findIndex((word) => word.toLowerCase() === plus);
      if (at < 0) return [];
      const other = words.with(at, minus).join(' ');
      if (!there.has(other)) return [];
      return [{ name: words.with(at, `${plus} / ${minus}`).join(' '), plus: name, minus: other }];
    }),
  );
}

function oppositePattern({ name, plus, minus }: Pair, sheets: readonly (readonly Cue[])[]): Pattern {
  return {
    name,
    graded: 'opposites',
    windows: sheets.map((sheet) =>
      sheet
        .filter((c) => c.name === plus || c.name === minus)
        .map((c) => windowOf(c, c.name === plus ? 1 : -1)),
    ),
  };
}

function windowOf({ startS, endS }: Cue, level: number): Window {
  return { startS, endS: Math.max(endS, startS), level };
}
