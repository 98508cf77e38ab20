"""Runs a command on a terminal of its own, presses a key once the arms move, and says how it ended.

on-a-terminal.py HEX EVENTS COMMAND...: HEX are the bytes of the key (none: the terminal is closed), EVENTS the run's
events.jsonl. Prints {status, hint, raw, restored}: was the hint shown, was the terminal raw in the run and as before after it.
"""
import fcntl, json, os, pty, select, struct, sys, termios, time

key, events, command = bytes.fromhex(sys.argv[1]), sys.argv[2], sys.argv[3:]
pid, terminal = pty.fork()
if pid == 0:
    os.execv(command[0], command)
fcntl.ioctl(terminal, termios.TIOCSWINSZ, struct.pack('HHHH', 24, 80, 0, 0))
before = termios.tcgetattr(terminal)[3]
shown, raw, pressed, restored, limit = b'', False, False, False, time.time() + 240
while time.time() < limit:
    if select.select([terminal], [], [], 0.05)[0]:
        try:
            shown += os.read(terminal, 65536)
        except OSError:
            break
    if not pressed and os.path.exists(events) and '"stage":"approach"' in open(events).read():
        raw = not termios.tcgetattr(terminal)[3] & termios.ICANON
        pressed = True
        if not key:
            os.close(terminal)
            break
        os.write(terminal, key)
    elif pressed:
        restored = termios.tcgetattr(terminal)[3] == before
        if restored and b'Recordings' in shown:
            break
_, status = os.waitpid(pid, 0)
print(json.dumps({
    'status': os.waitstatus_to_exitcode(status),
    'hint': b'space or Esc stops' in shown,
    'raw': raw,
    'restored': restored,
}))
