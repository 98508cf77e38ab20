/** The driver that a rig names, opened: the way to it, and what it is told of the rig. */
import { openSerial } from '../../bus/serial.js'
import { later } from '../../clock.js'
import type { DriverLinkSettings } from '../../files/driver.js'
import type { Rig } from '../../files/rig.js'
import { ReferenceDriver } from '../reference.js'
import type { Way, WayListener } from './messages.js'
import { ProcessWay } from './process.js'
import { ByteLineWay } from './serial.js'
import { openUdp } from './udp.js'
import { type DriverUnderTest, meetDriver } from './under-test.js'
import { openWebSocket } from './websocket.js'

export interface OpenDriverRequest {
  readonly rig: Rig
  /** In which a process runs: that of the rig file. */
  readonly folder: string
  /** Each line that it says for people. */
  readonly onSaid?: ((line: string) => void) | undefined
}

/**
 * @param link of the rig
 * @throws DrystrokeError `driver-access`: it is not there, or not ready in time
 */
export function openDriver(link: DriverLinkSettings, request: OpenDriverRequest): Promise<DriverUnderTest> {
  const { rig, folder, onSaid } = request
  return meetDriver({
    link,
    about: {
      rig: rig.name,
      joints: rig.joints.map(({ name }) => name),
      period: rig.control.period,
      park: Array.from(new ReferenceDriver(rig).parkPose),
    },
    open: (listener) => openWay(link, folder, listener),
    later,
    onSaid,
  })
}

async function openWay(link: DriverLinkSettings, folder: string, listener: WayListener): Promise<Way> {
  switch (link.kind) {
    case 'process':
      return new ProcessWay({ run: link.run, folder, listener, later })
    case 'udp':
      return openUdp(link, listener)
    case 'serial':
      return new ByteLineWay(await openSerial(link.device, link.rate), listener, later)
    case 'websocket':
      return openWebSocket(link.address, listener, later)
  }
}
