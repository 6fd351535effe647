import { expect, test } from 'vitest';
import { GatewayNames, identifier, NameScope } from '../../src/bridge/names.ts';

test('a name becomes lower-case letters, digits and underscores with a letter first', () => {
  const names = [
    'Wheel angle (Dunlin)',
    'Lenkwinkel-Größe',
    'driverTorque',
    '4WD',
    '',
    '  ',
    '°/s',
    'Ω',
    'скорость',
    'a__b',
  ];
  expect(names.map(identifier)).toEqual([
    'wheel_angle_dunlin',
    'lenkwinkel_grosse',
    'driver_torque',
    'n4wd',
    'unnamed',
    'unnamed',
    'deg_s',
    'u3a9',
    'u441_u43a_u43e_u440_u43e_u441_u442_u44c',
    'a_b',
  ]);
  for (const name of names) expect(identifier(name)).toMatch(/^[a-z][a-z0-9_]{0,39}$/);
});

test('words of C never stand alone as a name', () => {
  expect(['int', 'Double', 'uint8_t', 'restrict', 'class', 'bool', 'errno'].map(identifier)).toEqual([
    'int_',
    'double_',
    'uint8_t_',
    'restrict_',
    'class_',
    'bool_',
    'errno_',
  ]);
});

test('names that would become the same word are told apart, in the order in which they come', () => {
  const scope = new NameScope(['age']);
  expect(['Speed', 'speed', 'SPEED!', 'age'].map((n) => scope.give(n))).toEqual([
    'speed',
    'speed_2',
    'speed_3',
    'age_2',
  ]);
});

test('a very long name is cut and still unique', () => {
  const scope = new NameScope();
  const long = 'a'.repeat(100);
  const words = [1, 2, 3].map(() => scope.give(long));
  expect(new Set(words).size).toBe(3);
  for (const word of words) expect(word.length).toBeLessThanOrEqual(40);
});

test('signals cannot take the words that programs give to their own values', () => {
  const names = new GatewayNames([]);
  expect(names.signal(names.signals([]), 'van: X', 'held speed')).toBe('signal_held_speed');
  expect(names.entries).toEqual([
    { kind: 'signal', original: 'van: X: held speed', name: 'signal_held_speed' },
  ]);
});
