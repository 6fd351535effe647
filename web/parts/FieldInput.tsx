/** Inputs of the forms on which findings are judged. */
import { useId } from 'preact/hooks';

interface FieldInputProps {
  name: string;
  label: string;
  value?: string | undefined;
  type?: 'text' | 'number';
  required?: true;
  wide?: true;
}

export function FieldInput({ name, label, value = '', type = 'text', required, wide }: FieldInputProps) {
  const id = useId();
  const common = { id, name, defaultValue: value, required };
  return (
    <label htmlFor={id} class={wide ? 'wide' : undefined}>
      {label}
      {type === 'number' ? <input type="number" step="any" {...common} /> : <input {...common} />}
    </label>
  );
}

interface FieldSelectProps {
  name: string;
  label: string;
  value: string;
  choices: [value: string, words: string][];
}

export function FieldSelect({ name, label, value, choices }: FieldSelectProps) {
  const id = useId();
  return (
    <label htmlFor={id}>
      {label}
      <select id={id} name={name}>
        {choices.map(([choice, words]) => (
          <option key={choice} value={choice} selected={choice === value}>
            {words}
          </option>
        ))}
      </select>
    </label>
  );
}
