/** What the stop categories mean here, honestly named (after IEC 60204-1, 9.2.2). */
export const CATEGORY_MEANS = {
  0: 'torque off by bus; power is not removed',
  1: 'quick stop by bus, torque off by bus once still or at a time-out; power is not removed',
  2: 'stop and hold; the drives stay enabled',
} as const
