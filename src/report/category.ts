/** What the stop categories mean here, honestly named (after IEC 60204-1, 9.2.2). */
export const CATEGORY_MEANS = {
  0: 'torque off by bus; power is not removed',
  1: 'quick stop by bus, torque off by bus once still or at a time-out; power is not removed',
  2: 'controlled stop by setpoints, then held with the torque on; an operational stop, not an emergency stop',
} as const
