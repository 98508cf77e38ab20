import { oneByOne } from './setup/one-by-one.js'
import { PROCESSES } from './setup/processes.js'

export default oneByOne(PROCESSES)
