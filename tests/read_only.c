/* Answers writes to the files of one folder as the system does once their disk has become read-only, for as
   long as a file is there that says so. For `faults_disk.rs`, by LD_PRELOAD. */
#define _GNU_SOURCE
#include <dlfcn.h>
#include <errno.h>
#include <fcntl.h>
#include <limits.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/types.h>
#include <unistd.h>

static int refused(int file) {
  const char *folder = getenv("READ_ONLY_FOLDER");
  const char *name = getenv("READ_ONLY_SWITCH");
  char link[64], path[PATH_MAX];
  if (!folder || !name || access(name, F_OK) != 0) return 0;
  snprintf(link, sizeof link, "/proc/self/fd/%d", file);
  ssize_t length = readlink(link, path, sizeof path - 1);
  if (length < 0) return 0;
  path[length] = 0;
  if (strncmp(path, folder, strlen(folder)) != 0) return 0;
  errno = EROFS;
  return 1;
}

#define NEXT(name) ((__typeof__(&name))dlsym(RTLD_NEXT, #name))

ssize_t write(int file, const void *bytes, size_t count) {
  return refused(file) ? -1 : NEXT(write)(file, bytes, count);
}

ssize_t pwrite(int file, const void *bytes, size_t count, off_t at) {
  return refused(file) ? -1 : NEXT(pwrite)(file, bytes, count, at);
}

ssize_t pwrite64(int file, const void *bytes, size_t count, off64_t at) {
  return refused(file) ? -1 : NEXT(pwrite64)(file, bytes, count, at);
}

int ftruncate(int file, off_t length) {
  return refused(file) ? -1 : NEXT(ftruncate)(file, length);
}

int ftruncate64(int file, off64_t length) {
  return refused(file) ? -1 : NEXT(ftruncate64)(file, length);
}
