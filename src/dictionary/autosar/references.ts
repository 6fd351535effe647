/** References between AUTOSAR elements: absolute paths of short names. */

import { child, type Element, everyElement } from '../xml.ts';
import type { AutosarProblem } from './read.ts';

export class References {
  readonly #byPath = new Map<string, Element>();
  readonly #problems: AutosarProblem[];

  constructor(root: Element, problems: AutosarProblem[]) {
    this.#problems = problems;
    for (const element of everyElement(root))
      if (element.children.some((c) => c.name === 'SHORT-NAME') && !this.#byPath.has(element.path))
        this.#byPath.set(element.path, element);
  }

  /** The element that a reference inside `from` leads to; one that leads nowhere is told and gives undefined. */
  follow(from: Element | undefined, ...names: string[]): Element | undefined {
    const reference = child(from, ...names);
    return reference === undefined ? undefined : this.at(reference);
  }

  at(reference: Element): Element | undefined {
    const found = this.#byPath.get(reference.text);
    if (found === undefined) {
      const what = `${reference.name} to "${reference.text}", which is not in this file`;
      const expected = reference.text.startsWith('/')
        ? 'a system description that holds what it refers to (an extract of the whole system does)'
        : 'an absolute reference, starting with "/"';
      this.#problems.push({ line: reference.line, element: reference.path, found: what, expected });
    }
    return found;
  }

  /** The ECU-INSTANCE whose path begins the given one. */
  unitAround(path: string): Element | undefined {
    for (let at = path; at !== ''; at = at.slice(0, at.lastIndexOf('/'))) {
      const element = this.#byPath.get(at);
      if (element?.name === 'ECU-INSTANCE') return element;
    }
    return undefined;
  }

  /** Elements of that tag, anywhere. */
  all(name: string): Element[] {
    return [...this.#byPath.values()].filter((element) => element.name === name);
  }
}

/** Properties of a signal: the element that a name leads to, first of those in which it stands. */
export function conditional(properties: Element | undefined): Element | undefined {
  return child(properties, 'SW-DATA-DEF-PROPS-VARIANTS', 'SW-DATA-DEF-PROPS-CONDITIONAL');
}
