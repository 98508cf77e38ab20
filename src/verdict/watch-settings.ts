/** What the watches of a rig were set to. */
import { type StatedSetting, statedSettings } from '../files/stated-settings.js'
import { watchSchemas } from '../watch/settings.js'

/** @param rigText of a rig file that has been loaded without a complaint, or of a recording */
export function watchSettings(rigText: string): StatedSetting[] {
  return statedSettings(rigText, watchSchemas)
}
