/** Temporary build folders for tests: the van Wagtail, invented, with two buses and a guard. */
import { mkdirSync, mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { dirname, join } from 'node:path';
import { onTestFinished } from 'vitest';

/** Writes files into a fresh folder that is removed after the test; returns its path. */
export function folderWith(files: Record<string, string | Uint8Array>): string {
  const folder = mkdtempSync(join(tmpdir(), 'bywright-build-'));
  onTestFinished(() => rmSync(folder, { recursive: true, force: true }));
  for (const [name, content] of Object.entries(files)) {
    mkdirSync(dirname(join(folder, name)), { recursive: true });
    writeFileSync(join(folder, name), content);
  }
  return folder;
}

/** A build without problems. `changes` replaces files; null leaves one out. */
export function wagtail(changes: Record<string, string | null> = {}): Record<string, string> {
  const files: Record<string, string | null> = {
    'build.yaml': BUILD,
    'buses.yaml': BUSES,
    'units.yaml': UNITS,
    'dictionary/chassis.yaml': CHASSIS,
    'dictionary/control.yaml': CONTROL,
    'guard.yaml': GUARD,
    'bridge.yaml': BRIDGE,
    ...changes,
  };
  return Object.fromEntries(
    Object.entries(files).filter((entry): entry is [string, string] => entry[1] !== null),
  );
}

export const BUILD = `# Wagtail is invented.
form: build/1
title: Wagtail, by-wire conversion
stage: bench
host:
  name: Wagtail
  mass_kg: 2150          # weighed with driver and half a load
  yaw_inertia_kgm2: 4300
  wheelbase_m: 3.2
  cg_to_front_m: 1.45
  front_stiffness_n_per_rad: 110000
  rear_stiffness_n_per_rad: 120000
  steering_ratio: 18.5
  width_m: 1.9
`;

export const BUSES = `form: buses/1
buses:
  - name: chassis
    number: 0
    bit_rate_bps: 500000
  - name: control
    number: 1
    bit_rate_bps: 500000
`;

export const UNITS = `form: units/1
units:
  - name: Plover
    role: donor
    part: column steering unit
    buses: [chassis]
  - name: body computer
    role: host
    part: sends speed
    buses: [chassis]
  - name: gateway
    role: gateway
    part: microcontroller with two buses
    buses: [chassis, control]
  - name: controller
    role: controller
    part: lane-keeping computer
    buses: [control]
`;

export const CHASSIS = `form: dictionary/1
bus: chassis
messages:
  - name: wheel_speed
    id: 0x0C4
    length: 8
    period_ms: 20
    sender: body computer
    signals:
      - {name: speed, start: 7, length: 16, byte_order: big, scale: 0.01, unit: km/h, min: 0, max: 200}
  - name: steering_state
    id: 0x0E5
    length: 8
    period_ms: 10
    sender: Plover
    signals:
      - name: angle      # zero straight ahead
        start: 0
        length: 16
        byte_order: little
        signed: true
        scale: 0.1
        unit: deg
        min: -720
        max: 720
      - name: torque
        start: 16
        length: 12
        byte_order: little
        signed: true
        scale: 0.01
        unit: N·m
        min: -10
        max: 10
  - name: steering_order
    id: 0x2A0
    length: 8
    period_ms: 20
    sender: gateway
    signals:
      - name: order_angle
        start: 0
        length: 16
        byte_order: little
        signed: true
        scale: 0.1
        unit: deg
      - name: active
        start: 16
        length: 1
        byte_order: little
`;

export const CONTROL = `form: dictionary/1
bus: control
messages:
  - name: steer_wish
    id: 0x120
    length: 8
    period_ms: 20
    sender: controller
    signals:
      - name: wish_angle
        start: 0
        length: 16
        byte_order: little
        signed: true
        scale: 0.1
        unit: deg
        min: -500
        max: 500
      - name: wants
        start: 16
        length: 1
        byte_order: little
  - name: drive_info
    id: 0x130
    length: 8
    period_ms: 20
    sender: gateway
    signals:
      - name: speed
        start: 0
        length: 16
        byte_order: little
        scale: 0.01
        unit: km/h
        min: 0
        max: 300
`;

export const GUARD = `form: guard/2
arm_input: {name: arm button, active: high}
stop_input: {name: stop switch, active: low}
handover:
  request: {bus: control, message: steer_wish, signal: wants}
  speed: {bus: chassis, message: wheel_speed, signal: speed}
  command_age_ms: 100
  sensor_age_ms: 100
  release_ms: 600
  arm_hold_ms: 500
  driver_torque:
    signal: {bus: chassis, message: steering_state, signal: torque}
    at_nm: 2.5
    for_ms: 60
steering:
  by: angle
  command: {bus: control, message: steer_wish, signal: wish_angle}
  angle: {bus: chassis, message: steering_state, signal: angle}
  output: {bus: chassis, message: steering_order}
  output_order: order_angle
  output_active: active
  output_period_ms: 20
  level:
    - {speed_mps: 0, angle_deg: 90}
    - {speed_mps: 8, angle_deg: 12}
    - {speed_mps: 17, angle_deg: 4}
  slew:
    - {speed_mps: 0, rate_deg_per_s: 60}
    - {speed_mps: 17, rate_deg_per_s: 8}
  arm_angle_deg: 5
budget:
  reaction_time_s: 1.2
  lateral_distance_m: 0.6
  speed_max_mps: 17
`;

export const BRIDGE = `form: bridge/1
step_ms: 10
routes:
  - name: speed for the controller
    to: {bus: control, message: drive_info}
    period_ms: 20
    source_age_ms: 100
    signals:
      - to: speed
        from: {bus: chassis, message: wheel_speed, signal: speed}
`;
