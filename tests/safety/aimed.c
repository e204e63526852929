/* Loaded before the C library: counts what changes files, and ends the process at one of them.

   aim(n, after): from now on the n-th call ends the process, before it is made or right after it;
   0 for none. counted(): the calls since. note(fd): from now on each call is told there. */
#define _GNU_SOURCE
#include <dlfcn.h>
#include <signal.h>
#include <stdio.h>
#include <string.h>
#include <sys/syscall.h>
#include <sys/types.h>
#include <unistd.h>

static long at, after_it, count;
static int told = -1;

void aim(long n, long after) { at = n; after_it = after; count = 0; }
long counted(void) { return count; }
void note(int fd) { told = fd; }

static void tell(const char *what, int fd, const char *name) {
    char line[600], link[64];
    ssize_t length;
    if (told < 0) return;
    strcpy(line, what);
    strcat(line, " ");
    if (name) strncat(line, name, 500);
    else {
        snprintf(link, sizeof link, "/proc/self/fd/%d", fd);
        size_t used = strlen(line);
        length = readlink(link, line + used, 500);
        line[used + (length > 0 ? length : 0)] = 0;
    }
    strcat(line, "\n");
    syscall(SYS_write, told, line, strlen(line));
}

static int due(void) { return ++count == at; }
static void end(void) { kill(getpid(), SIGKILL); for (;;) pause(); }

#define AIMED(result, name, parameters, arguments, fd, path)                                  \
    result name parameters {                                                                  \
        static result(*real) parameters;                                                      \
        if (!real) real = (result(*) parameters)dlsym(RTLD_NEXT, #name);                      \
        int now = due();                                                                      \
        if (now && !after_it) end();                                                          \
        tell(#name, fd, path);                                                                \
        result got = real arguments;                                                          \
        if (now) end();                                                                       \
        return got;                                                                           \
    }

AIMED(ssize_t, write, (int fd, const void *b, size_t n), (fd, b, n), fd, 0)
AIMED(ssize_t, pwrite, (int fd, const void *b, size_t n, off_t o), (fd, b, n, o), fd, 0)
AIMED(ssize_t, pwrite64, (int fd, const void *b, size_t n, off64_t o), (fd, b, n, o), fd, 0)
AIMED(int, fsync, (int fd), (fd), fd, 0)
AIMED(int, fdatasync, (int fd), (fd), fd, 0)
AIMED(int, ftruncate, (int fd, off_t n), (fd, n), fd, 0)
AIMED(int, ftruncate64, (int fd, off64_t n), (fd, n), fd, 0)
AIMED(int, rename, (const char *a, const char *b), (a, b), -1, b)
AIMED(int, link, (const char *a, const char *b), (a, b), -1, b)
AIMED(int, unlink, (const char *a), (a), -1, a)
