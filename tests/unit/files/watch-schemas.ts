/** Stand-ins for the watches' settings, with the shapes that real ones have: this folder must not need the watches. */
import { z } from 'zod'
import { quantity } from '../../../src/files/quantity.js'

const nothing = z.object({})

export const watchSchemas = {
  limits: nothing,
  tracking: z
    .strictObject({ lag: z.record(z.string(), quantity('time', 'by joint')).prefault({}) })
    .prefault({}),
  silence: z.object({ age: quantity('time', 'oldest feedback', { min: '1 ms' }).prefault('20 ms') }),
  sense: nothing,
  stopping: nothing,
  bus: nothing,
}
