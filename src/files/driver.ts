/** What a rig says of its driver, resolved. `driver-schema.ts` says how it is written. */

/** What a driver is held against, whoever it is: side speeds that are asked for, and how fast they may change. */
export interface DriverSettings {
  /** Side speeds are raised by 1 + slip: a blade at hull speed gives no thrust. */
  readonly slip: number
  /** m/s2, of side speed */
  readonly acceleration: number
  /** m/s3, of side speed */
  readonly jerk: number
  /** Least singularity measure (see motion/kinematics.ts) that a pose of the reference driver may have. */
  readonly singularity: number
  /** How the team's own driver is reached; null: the reference driver leads the arms. */
  readonly link: DriverLinkSettings | null
}

export type DriverLinkSettings =
  | ProcessDriverSettings
  | WebSocketDriverSettings
  | UdpDriverSettings
  | SerialDriverSettings

interface EveryDriverLink {
  /** It drives the buses itself and only hears commands; false: it answers each command with setpoints. */
  readonly ownsBus: boolean
  /** s between two commands to it; null: the control period */
  readonly every: number | null
  /** s of the wall clock: until it is ready, and in virtual time until each answer */
  readonly handshake: number
  /** s, longest that a command may wait for its answer */
  readonly answer: number
  /** s, from the last command to the last change of a setpoint; null: as the rig's own ramps have it */
  readonly rest: number | null
  /** rad, how near to its park pose each setpoint is when the blades are parked */
  readonly parked: number
}

/** A child process, JSON lines on its standard input and output. */
export interface ProcessDriverSettings extends EveryDriverLink {
  readonly kind: 'process'
  /** Program and arguments; it runs in the folder of the rig file. */
  readonly run: readonly [string, ...string[]]
}

/** JSON datagrams. */
export interface UdpDriverSettings extends EveryDriverLink {
  readonly kind: 'udp'
  readonly host: string
  readonly port: number
  /** Port of ours that answers come to; null: any */
  readonly ownPort: number | null
}

/** JSON lines on a serial port. */
export interface SerialDriverSettings extends EveryDriverLink {
  readonly kind: 'serial'
  readonly device: string
  /** bit/s */
  readonly rate: number
}

/** Whatever JSON the other end of a WebSocket wants. */
export interface WebSocketDriverSettings extends EveryDriverLink {
  readonly kind: 'websocket'
  readonly address: string
  readonly afterConnecting: readonly Template[]
  readonly command: Template
  /** Each time that the arms stand at its park pose and begin: at first, and after each stop. */
  readonly beforeStarting: readonly Template[]
  readonly beforeClosing: readonly Template[]
  /** What a message must say before the run begins, and where it says in which pose the driver stands; null: nothing is waited for, or said */
  readonly ready: { readonly at: string; readonly is: string; readonly park: string | null } | null
  /** JSON Pointers (RFC 6901) into its messages; `setpoints` is null when it owns the bus, `counter` when none comes back */
  readonly setpoints: string | null
  readonly counter: string | null
}

/** A JSON value in which whole strings such as `$surge` stand for what is known when the message is sent. */
export type Template = string | number | boolean | null | readonly Template[] | TemplateSection
export interface TemplateSection {
  readonly [key: string]: Template
}

/** Words of a command template: m/s, rad/s, s since the run's begin, number of the command from 1, what a driver that owns the buses is to do. */
export const COMMAND_WORDS = ['surge', 'yaw', 'time', 'count', 'order'] as const
/** Words of every template: name of the rig, names of its joints in order, s, the reference driver's park pose in rad. */
export const RIG_WORDS = ['rig', 'joints', 'period', 'park'] as const
