/** The integers in which the steering guard counts: what its inputs and outputs mean, for the bridge that feeds it. */

/** One input or output of a guard program: physical value = count × perCount. */
export interface CountUnit {
  /** "°", "m/s", "N·m", "steps", "ms"; empty for a flag, mode or cause. */
  unit: string;
  /** Physical value of one count. */
  perCount: number;
  /** The bridge clamps what it converts to lo … hi. */
  lo: number;
  hi: number;
  meaning: string;
}

/** Ages count steps up to here and stay: "this long or never". */
export const AGE_MAX = 1023;

const ANGLE = { unit: '°', perCount: 0.01, lo: -200_000, hi: 200_000 };
const AGE = { unit: 'steps', perCount: 1, lo: 0, hi: AGE_MAX };
const FLAG = { unit: '', perCount: 1, lo: 0, hi: 1 };

/** Inputs of the steering guard by name, in the order of the program. Angles are steering-wheel angles. */
export const steeringUnits = {
  command_angle: { ...ANGLE, meaning: 'angle that the controller asks for' },
  command_request: { ...FLAG, meaning: '1 = the controller asks to steer' },
  command_age: {
    ...AGE,
    meaning: 'steps since command and request were last received valid, the older of them',
  },
  speed: { unit: 'm/s', perCount: 0.01, lo: 0, hi: 10_000, meaning: 'speed of the car, either direction' },
  speed_age: { ...AGE, meaning: 'steps since the speed was last received valid' },
  angle: { ...ANGLE, meaning: 'measured steering wheel angle' },
  angle_age: { ...AGE, meaning: 'steps since the angle was last received valid' },
  driver_torque: {
    unit: 'N·m',
    perCount: 0.01,
    lo: -10_000,
    hi: 10_000,
    meaning: "driver's torque at the wheel",
  },
  torque_age: { ...AGE, meaning: 'steps since the torque was last received valid' },
  arm_input: { ...FLAG, meaning: '1 = the button for handing over is pressed' },
  stop_input: { ...FLAG, meaning: '1 = stop' },
  clock_ms: {
    unit: 'ms',
    perCount: 1,
    lo: 0,
    hi: 2 ** 32 - 1,
    meaning: 'millisecond clock of this step, mod 2³²',
  },
} as const satisfies Record<string, CountUnit>;

export type SteeringInput = keyof typeof steeringUnits;

/** Values of the output `mode`, in this order. */
export const MODES = ['idle', 'ready', 'armed', 'releasing', 'tripped'] as const;

/** Values of the output `cause`, in this order: why the guard last released or tripped. */
export const CAUSES = [
  'none',
  'request withdrawn',
  'driver override',
  'button',
  'command lost',
  'speed lost',
  'angle lost',
  'torque lost',
  'speed outside its range',
  'step spacing',
  'stop input',
] as const;

export type Mode = (typeof MODES)[number];
export type Cause = (typeof CAUSES)[number];

/** Outputs of the steering guard by name. */
export const steeringOutputs = {
  order_angle: { ...ANGLE, meaning: 'angle ordered from the steering unit; 0 when the guard orders nothing' },
  order_active: { ...FLAG, meaning: '1 = the steering unit is to follow the order' },
  mode: {
    unit: '',
    perCount: 1,
    lo: 0,
    hi: MODES.length - 1,
    meaning: MODES.map((m, i) => `${i} ${m}`).join(', '),
  },
  cause: {
    unit: '',
    perCount: 1,
    lo: 0,
    hi: CAUSES.length - 1,
    meaning: CAUSES.map((c, i) => `${i} ${c}`).join(', '),
  },
} as const satisfies Record<string, CountUnit>;

export function modeNumber(mode: Mode): number {
  return MODES.indexOf(mode);
}

export function causeNumber(cause: Cause): number {
  return CAUSES.indexOf(cause);
}
