"""Runs a command and prints wall time, processor time (both in seconds) and the most memory it held (in MB)."""

import resource
import subprocess
import sys
import time

start = time.perf_counter()
done = subprocess.run(sys.argv[1:], stdout=subprocess.DEVNULL, check=False)
wall = time.perf_counter() - start
used = resource.getrusage(resource.RUSAGE_CHILDREN)
if done.returncode:
    sys.exit(done.returncode)
print(f"{wall:.2f} {used.ru_utime + used.ru_stime:.2f} {used.ru_maxrss / 1024:.0f}")
