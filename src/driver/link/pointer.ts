/** What a JSON Pointer (RFC 6901) points to in a value, undefined: nothing. */
export function pointed(value: unknown, pointer: string): unknown {
  let found = value
  for (const token of pointer.split('/').slice(1)) {
    // RFC 6901, 4: first ~1, then ~0.
    const key = token.replaceAll('~1', '/').replaceAll('~0', '~')
    if (typeof found !== 'object' || found === null) return undefined
    if (Array.isArray(found)) found = /^(0|[1-9]\d*)$/.test(key) ? found[Number(key)] : undefined
    else found = Object.hasOwn(found, key) ? (found as Record<string, unknown>)[key] : undefined
  }
  return found
}
