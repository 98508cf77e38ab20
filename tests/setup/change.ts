/** Text with a piece of it changed. */

/** Replaces exactly one place of a text, and says so when there is none: a test must not run on an unchanged file. */
export function change(
  text: string,
  from: string | RegExp,
  to: string | ((...groups: string[]) => string),
): string {
  const changed = typeof to === 'string' ? text.replace(from, to) : text.replace(from, to)
  if (changed === text) throw new Error(`nothing to change: ${from}`)
  return changed
}
