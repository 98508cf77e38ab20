"""A command on a terminal of its own, led line by line: what it shows is told, keys are pressed and held as a person would.

terminal.py COMMAND...: takes orders on standard input, `type HEX` (bytes of keys), `hold HEX` (one key, again and again until
`release`: the first repetition after 400 ms, then every 33 ms, as keyboards do). Prints JSON lines: {"shown": text} as it
comes; last {"status": exit status, "raw": was the terminal ever raw, "restored": is it as it was}.
"""
import fcntl, json, os, pty, select, struct, sys, termios, time

pid, terminal = pty.fork()
if pid == 0:
    os.execv(sys.argv[1], sys.argv[1:])
fcntl.ioctl(terminal, termios.TIOCSWINSZ, struct.pack('HHHH', 24, 80, 0, 0))


def mode():
    return termios.tcgetattr(terminal)[3]


def tell(**what):
    print(json.dumps(what), flush=True)


before, raw, restored = mode(), False, False
held, next_key, orders, sources = b'', 0.0, b'', [terminal, 0]
while True:
    wait = max(0.0, next_key - time.monotonic()) if held else 0.1
    ready = select.select(sources, [], [], wait)[0]
    if terminal in ready:
        try:
            tell(shown=os.read(terminal, 65536).decode('utf8', 'replace'))
        except OSError:
            break
    if 0 in ready:
        more = os.read(0, 4096)
        if not more:
            sources.remove(0)
        *lines, orders = (orders + more).split(b'\n')
        for line in lines:
            word, _, keys = line.decode().partition(' ')
            held = b''
            if word != 'release':
                os.write(terminal, bytes.fromhex(keys))
            if word == 'hold':
                held, next_key = bytes.fromhex(keys), time.monotonic() + 0.4
    if held and time.monotonic() >= next_key:
        os.write(terminal, held)
        next_key = time.monotonic() + 0.033
    try:
        raw, restored = raw or not mode() & termios.ICANON, mode() == before
    except termios.error:
        break
_, status = os.waitpid(pid, 0)
tell(status=os.waitstatus_to_exitcode(status), raw=raw, restored=restored)
