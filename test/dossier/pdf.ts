/** Reads from a tagged PDF on which pages each row of a table and each figure lies (ISO 32000-1, 14.7.2 structure elements). */

export interface Placed {
  kind: 'row' | 'heading row' | 'figure';
  pages: number[];
}

/** Works on PDFs whose dictionaries are not compressed, which is how Chromium writes them. */
export function placedParts(pdf: Uint8Array): { pages: number; parts: Placed[] } {
  const text = Buffer.from(pdf).toString('latin1');
  const objects = new Map<string, string>();
  for (const m of text.matchAll(/(\d+) 0 obj\s*([\s\S]*?)\s*endobj/g))
    objects.set(m[1] as string, m[2] as string);
  const pageIds = [...objects].filter(([, body]) => /\/Type \/Page\b/.test(body)).map(([id]) => id);
  const kindOf = (id: string) => /\/S \/(\w+)/.exec(objects.get(id) ?? '')?.[1] ?? '';
  const childrenOf = (id: string): string[] => {
    const kids = /\/K (\[[^\]]*\]|\d+ 0 R)/.exec(objects.get(id) ?? '')?.[1] ?? '';
    return [...kids.matchAll(/(\d+) 0 R/g)]
      .map((m) => m[1] as string)
      .filter((kid) => /\/Type \/StructElem/.test(objects.get(kid) ?? ''));
  };
  const pagesOf = (id: string): Set<number> => {
    const own = [...(objects.get(id) ?? '').matchAll(/\/Pg (\d+) 0 R/g)].map((m) =>
      pageIds.indexOf(m[1] as string),
    );
    return new Set([...own, ...childrenOf(id).flatMap((kid) => [...pagesOf(kid)])]);
  };
  const parts: Placed[] = [];
  for (const id of objects.keys()) {
    const kind = kindOf(id);
    if (!/\/Type \/StructElem/.test(objects.get(id) ?? '') || (kind !== 'TR' && kind !== 'Figure')) continue;
    const onlyHeads = kind === 'TR' && childrenOf(id).every((kid) => kindOf(kid) === 'TH');
    const pages = [...pagesOf(id)].sort((a, b) => a - b);
    parts.push({ kind: kind === 'Figure' ? 'figure' : onlyHeads ? 'heading row' : 'row', pages });
  }
  return { pages: pageIds.length, parts };
}
