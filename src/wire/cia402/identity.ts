/** Who a drive says that it is, as a line of text: identity object 1018h and manufacturer software version 100Ah (CiA 301, 7.5.2). */

/** @param numbers vendor, product, revision, serial number (1018h:1-4); null: the drive has no such entry */
export function showDrive(numbers: readonly (number | null)[], firmware: string | null): string {
  const [vendor, product, revision, serial] = numbers.map((n) => (n == null ? 'untold' : hex(n)))
  const software = firmware === null ? 'untold' : JSON.stringify(firmware)
  return `vendor ${vendor}, product ${product}, revision ${revision}, serial ${serial}, firmware ${software}`
}

const hex = (n: number): string => `${(n >>> 0).toString(16).toUpperCase()}h`
