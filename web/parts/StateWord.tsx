/** How far something has come, as a word with a small square beside it: the square's form says the same as the word. */
import type { FindingState, ObligationStatus } from '../../src/server/api.ts';

type State = FindingState | ObligationStatus;

const WORD: Record<State, string> = {
  open: 'open',
  proposed: 'proposed',
  accepted: 'accepted',
  rejected: 'rejected',
  proved: 'proved',
  failed: 'failed',
  notShown: 'not shown',
  vacuous: 'vacuous',
};

/** Full square: it stands; crossed: it does not; half: on the way; dashed: nobody knows; empty: nothing yet; barred: empty claim. */
const FORM: Record<State, 'full' | 'crossed' | 'half' | 'dashed' | 'empty' | 'barred'> = {
  open: 'empty',
  proposed: 'half',
  accepted: 'full',
  rejected: 'crossed',
  proved: 'full',
  failed: 'crossed',
  notShown: 'dashed',
  vacuous: 'barred',
};

export function StateWord({ state }: { state: State }) {
  const form = FORM[state];
  return (
    <span class={`state ${form}`}>
      <svg viewBox="0 0 12 12" width="11" height="11" aria-hidden="true">
        <rect x="1.2" y="1.2" width="9.6" height="9.6" />
        {form === 'full' && <rect class="ink" x="3" y="3" width="6" height="6" />}
        {form === 'half' && <path class="ink" d="M1.2 10.8V1.2L10.8 10.8Z" />}
        {form === 'crossed' && <path d="M1.2 1.2L10.8 10.8M10.8 1.2L1.2 10.8" />}
        {form === 'barred' && <path d="M1.2 6H10.8" />}
      </svg>
      {WORD[state]}
    </span>
  );
}
