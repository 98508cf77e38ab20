/** What a stream can show. */

/** May a stream be written to in colour? https://no-color.org: NO_COLOR set and not empty means no. */
export function hasColour(out: NodeJS.WriteStream): boolean {
  return canRewrite(out) && !process.env.NO_COLOR
}

/** Is it a terminal that can write a line over? `TERM=dumb` says that it knows no control sequences (terminfo). */
export function canRewrite(out: NodeJS.WriteStream): boolean {
  return out.isTTY === true && process.env.TERM !== 'dumb'
}

/** Lines longer than this are hard to read, however wide the window is. */
const WIDEST = 100

/** Columns to lay text out in; 80 where nobody says. */
export function columnsOf(out: NodeJS.WriteStream): number {
  return Math.min(WIDEST, (out.isTTY && out.columns) || 80)
}
