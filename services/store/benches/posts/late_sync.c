/* Preloaded by the bench: makes every sync of a file later by SYNC_DELAY_US, and counts it as a byte of the
 * file SYNC_COUNT. */
#define _GNU_SOURCE
#include <dlfcn.h>
#include <fcntl.h>
#include <stdlib.h>
#include <unistd.h>

static int late(const char *name, int file) {
    const char *delay = getenv("SYNC_DELAY_US");
    const char *count = getenv("SYNC_COUNT");
    if (delay) usleep((useconds_t)atoi(delay));
    if (count) {
        int counted = open(count, O_WRONLY | O_APPEND | O_CREAT, 0600);
        if (counted < 0 || write(counted, "x", 1) != 1) abort();
        close(counted);
    }
    return ((int (*)(int))dlsym(RTLD_NEXT, name))(file);
}

int fsync(int file) { return late("fsync", file); }
int fdatasync(int file) { return late("fdatasync", file); }
