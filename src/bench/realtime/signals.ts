/**
 * Signals that ask for a stop. SIGTSTP and SIGQUIT come from keys too: they would freeze or kill a process that leads arms.
 */
export const STOP_SIGNALS = ['SIGINT', 'SIGTERM', 'SIGHUP', 'SIGQUIT', 'SIGTSTP'] as const
