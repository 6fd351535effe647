/** A stretch of a sheet with the notes that belong to it in the margin beside it. */
import type { ComponentChildren } from 'preact';

interface SectionProps {
  title?: string;
  notes?: ComponentChildren;
  children: ComponentChildren;
}

export function Section({ title, notes, children }: SectionProps) {
  return (
    <section class="section">
      <div class="text">
        {title && <h2>{title}</h2>}
        {children}
      </div>
      {notes && (
        <aside class="margin" aria-label={title ? `Notes to ${title}` : 'Notes'}>
          {notes}
        </aside>
      )}
    </section>
  );
}

export function Note({ title, children }: { title: string; children: ComponentChildren }) {
  return (
    <div class="note">
      <b>{title}</b>
      {children}
    </div>
  );
}

export function Caution({ children }: { children: ComponentChildren }) {
  return (
    <div class="caution" role="note">
      <b>Caution</b>
      {children}
    </div>
  );
}
