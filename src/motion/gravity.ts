/** m/s2, the standard acceleration of free fall. Source: 3rd General Conference on Weights and Measures (1901). */
export const GRAVITY = 9.80665
