/**
 * What a rig file says of the craft beyond its arms: the water, the hull in it, what the arms are fixed to, and the battery.
 * SI, temperatures in degrees Celsius. How it is written: water-schema.ts, mount-schema.ts, battery-schema.ts.
 */

export interface WaterSettings {
  /** degrees Celsius */
  readonly temperature: number
  /** kg/m3; null: fresh water's at the temperature */
  readonly density: number | null
  /** m2/s, kinematic; null: from fresh water's dynamic viscosity at the temperature */
  readonly viscosity: number | null
}

/** How a blade works in the flow; plain numbers. What they multiply: motion/water/blade-force.ts. */
export interface BladeFlow {
  /** Al: lift coefficient is Al sin 2a */
  readonly lift: number
  /** Ad: drag coefficient is Ad sin^2 a */
  readonly drag: number
  /**
   * Added mass as a share of that of an endlessly long plate, which is the most that it can be; a blade has ends, and
   * 0.58 is right for a square, 0.76 for 2:1 (table of rectangular plates in DNV-RP-C205, from memory)
   */
  readonly added: number
}

/** linear x + quadratic |x| x */
export interface Damping {
  /** N s/m for sway, N m s for yaw */
  readonly linear: number
  /** N s2/m2 for sway, N m s2 for yaw */
  readonly quadratic: number
}

export interface AddedMass {
  /** kg, along x */
  readonly surge: number
  /** kg, along y */
  readonly sway: number
  /** kg m2, about z through the middle of the hull */
  readonly yaw: number
}

export interface DragRow {
  /** m/s through the water */
  readonly speed: number
  /** N */
  readonly force: number
}

/** The hull of the laden craft; its mass is `Craft.mass`. */
export interface HullSettings {
  /** m, of the waterline */
  readonly length: number
  /** m, of the waterline */
  readonly beam: number
  /** m, of the hull in the water */
  readonly draught: number
  /** m, x of the centre of mass in the craft frame */
  readonly centre: number
  /** m, radius of gyration about z */
  readonly gyration: number
  /** m, GM; null: not stated, so nothing can be said of heel */
  readonly metacentricHeight: number | null
  /** rad, heel beyond which a warning is given */
  readonly mostHeel: number
  /** null: as half an ellipsoid of the hull's extent */
  readonly added: AddedMass | null
  readonly resistance:
    | { readonly kind: 'wetted' /** m2 */; readonly area: number; readonly formFactor: number }
    /** By rising speed */
    | { readonly kind: 'table'; readonly rows: readonly DragRow[] }
  /** Drag coefficient of a section that is pushed broadside, where `sway` or `yaw` is null */
  readonly crossFlow: number
  readonly sway: Damping | null
  readonly yaw: Damping | null
}

/** What each arm is fixed to. */
export interface MountSettings {
  /** m, from the clamp to where the arm is bolted on */
  readonly length: number
  readonly beam:
    | {
        readonly kind: 'section'
        /** Pa, Young's modulus */
        readonly modulus: number
        /** m4, for bending the way the blade pulls */
        readonly inertia: number
        /** kg/m */
        readonly massPerLength: number
      }
    | {
        readonly kind: 'measured'
        /** N, at the tip */
        readonly load: number
        /** m, of the tip under it */
        readonly deflection: number
        /** kg, of the beam */
        readonly mass: number
      }
  /** kg, what the arm weighs at the tip */
  readonly tipMass: number
  /** m, from the tip on to the blade */
  readonly reach: number
  /** Hz, measured vibration that the mount must keep away from */
  readonly lines: readonly number[]
  /** How far strokes and lines must stay away from the mount's own frequency, either way, as a share of it */
  readonly margin: number
  /** Harmonics of a stroke that are looked at, the fundamental included */
  readonly harmonics: number
}

export interface BatterySettings {
  /** A s, as rated at `rating` */
  readonly capacity: number
  /** s, the time of discharge that the capacity is rated for */
  readonly rating: number
  /** Peukert's k */
  readonly exponent: number
  /** V, mean under load */
  readonly voltage: number
  /** 0..1, share of the charge that may be used */
  readonly usable: number
  /** 0..1, of what lies between battery and drives */
  readonly efficiency: number
  /** W, from the battery all the time, whatever the arms do */
  readonly standby: number
}
