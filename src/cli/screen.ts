/** May a stream be written to in colour? https://no-color.org: NO_COLOR set and not empty means no. */
export function hasColour(out: NodeJS.WriteStream): boolean {
  return out.isTTY === true && !process.env.NO_COLOR && process.env.TERM !== 'dumb'
}
