import { oneByOne } from './setup/one-by-one.js'
import { CAN_DRIVERS } from './setup/processes.js'

export default oneByOne(CAN_DRIVERS)
