import { describe, expect, test } from 'vitest';
import { diagnosticHead, refusalName, serviceName, wantsNoAnswer } from '../../src/can/diagnostics.ts';
import { obdAnswerValues } from '../../src/can/obd.ts';
import { hex } from './transport/collect.ts';

const head = (text: string) => diagnosticHead(hex(text), 0, hex(text).length);

describe('diagnostic messages', () => {
  test('are requests, answers or refusals of a service', () => {
    expect(head('22 F1 90')).toEqual({ kind: 'request', service: 0x22 });
    expect(head('62 F1 90 31')).toEqual({ kind: 'answer', service: 0x22 });
    expect(head('7F 22 31')).toEqual({ kind: 'refusal', service: 0x22, code: 0x31, pending: false });
    expect(head('7F 31 78')).toEqual({ kind: 'refusal', service: 0x31, code: 0x78, pending: true });
    expect(head('C5 02')).toEqual({ kind: 'answer', service: 0x85 });
    expect([head(''), head('0F'), head('7F 22')]).toEqual([null, null, null]);
  });

  test('have names, and their numbers where the standards have none', () => {
    expect(serviceName(0x3e)).toBe('tester present');
    expect(serviceName(0xbb)).toBe('service BB');
    expect(refusalName(0x33)).toBe('security access denied');
    expect(refusalName(0x02)).toBe('reason 02');
  });

  test('bit 7 of a subfunction asks for no answer, where the service has a subfunction', () => {
    const asks = (text: string) => wantsNoAnswer(hex(text), 0, hex(text).length);
    expect([asks('3E 80'), asks('3E 00'), asks('22 F1 90'), asks('3E')]).toEqual([true, false, false, false]);
  });

  test('an answer to mode 01 may hold more values than a frame', () => {
    const values = obdAnswerValues(hex('41 0C 1A F8 0D 3C 05 7B 11 33'));
    expect(values.map((v) => [v.kind.name, v.value])).toEqual([
      ['engine speed', 1726],
      ['vehicle speed', 60],
      ['coolant temperature', 83],
      ['throttle position', 20],
    ]);
    expect(obdAnswerValues(hex('42 0C 1A F8'))).toEqual([]);
  });
});
