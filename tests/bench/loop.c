/*
 * The reference beside our loop: a bare C loop that sleeps to absolute deadlines with clock_nanosleep, as real-time
 * programs on Linux usually do (common practice, no source). Prints one lateness in nanoseconds a line.
 *
 *   loop RATE SECONDS
 */
#include <stdio.h>
#include <stdlib.h>
#include <sys/mman.h>
#include <time.h>

static long long now_ns(void) {
  struct timespec t;
  clock_gettime(CLOCK_MONOTONIC, &t);
  return t.tv_sec * 1000000000LL + t.tv_nsec;
}

int main(int argc, char **argv) {
  if (argc != 3) return 2;
  const long long period = (long long)(1e9 / atof(argv[1]));
  const long count = (long)(atof(argv[1]) * atof(argv[2]));
  long long *late = malloc(sizeof *late * (size_t)count);
  if (!late || count <= 0) return 2;
  mlockall(MCL_CURRENT | MCL_FUTURE);
  const long long base = now_ns() + period;
  for (long k = 0; k < count; k++) {
    const long long due = base + k * period;
    const struct timespec t = {due / 1000000000LL, due % 1000000000LL};
    while (clock_nanosleep(CLOCK_MONOTONIC, TIMER_ABSTIME, &t, NULL) != 0) {
    }
    late[k] = now_ns() - due;
  }
  for (long k = 0; k < count; k++) printf("%lld\n", late[k]);
  return 0;
}
