/* A disk that can be watched and broken, between a program and its files: loaded before the C library
 * (LD_PRELOAD), for the files below DISK_ROOT only.
 *
 * DISK_TRACE names a file that gets one record for each change: what is written is there with its
 * bytes, so that a test can work out what a power cut would have left at any moment.
 * DISK_FAULT is "N:ERRNO:once" or "N:ERRNO:on": the N-th change fails with that error, or it and all
 * after it.
 *
 * A record is a line "OP path offset length\n" and, for W, the bytes.
 * OP: C made, W written, T cut to a length, S synced, U removed. Folders are synced by S too. */
#define _GNU_SOURCE
#include <dlfcn.h>
#include <errno.h>
#include <fcntl.h>
#include <limits.h>
#include <pthread.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <sys/syscall.h>
#include <sys/types.h>
#include <unistd.h>

#define FILES 4096
static char *paths[FILES];
static int trace = -1;
static const char *root;
static long fault_at = -1, changes;
static int fault_errno, fault_stays;
static pthread_mutex_t lock = PTHREAD_MUTEX_INITIALIZER;
static pthread_once_t once = PTHREAD_ONCE_INIT;

static void begin(void) {
    root = getenv("DISK_ROOT");
    const char *to = getenv("DISK_TRACE");
    if (to)
        trace = (int)syscall(SYS_openat, AT_FDCWD, to, O_WRONLY | O_CREAT | O_APPEND | O_CLOEXEC, 0600);
    const char *fault = getenv("DISK_FAULT");
    if (fault) {
        char word[8] = "";
        if (sscanf(fault, "%ld:%d:%7s", &fault_at, &fault_errno, word) == 3)
            fault_stays = strcmp(word, "on") == 0;
    }
}

static int ours(const char *path) {
    pthread_once(&once, begin);
    return root && path && strncmp(path, root, strlen(root)) == 0;
}

static const char *of(int fd) {
    pthread_once(&once, begin);
    return fd >= 0 && fd < FILES ? paths[fd] : NULL;
}

/* One change: whether it is to fail. The lock is held from here to `done`. */
static int fails(void) {
    pthread_mutex_lock(&lock);
    changes++;
    if (fault_at > 0 && (changes == fault_at || (fault_stays && changes > fault_at))) {
        pthread_mutex_unlock(&lock);
        errno = fault_errno;
        return 1;
    }
    return 0;
}

static void put(const void *bytes, size_t length) {
    const char *at = bytes;
    while (length > 0) {
        long written = syscall(SYS_write, trace, at, length);
        if (written <= 0)
            abort();
        at += written;
        length -= (size_t)written;
    }
}

static void done(char op, const char *path, long long offset, size_t length, const void *bytes) {
    if (trace >= 0) {
        char head[PATH_MAX + 64];
        int size = snprintf(head, sizeof head, "%c %s %lld %zu\n", op, path, offset, length);
        put(head, (size_t)size);
        if (bytes)
            put(bytes, length);
    }
    pthread_mutex_unlock(&lock);
}

static int open_ours(const char *path, int flags, mode_t mode) {
    int is_new = (flags & O_CREAT) && access(path, F_OK) != 0;
    int is_cut = (flags & O_TRUNC) != 0;
    if ((is_new || is_cut) && fails())
        return -1;
    int fd = (int)syscall(SYS_openat, AT_FDCWD, path, flags, mode);
    if (is_new || is_cut) {
        int kept = errno;
        if (fd >= 0)
            done(is_new ? 'C' : 'T', path, 0, 0, NULL);
        else
            pthread_mutex_unlock(&lock);
        errno = kept;
    }
    if (fd >= 0 && fd < FILES) {
        free(paths[fd]);
        paths[fd] = strdup(path);
    }
    return fd;
}

static int opened(const char *path, int flags, mode_t mode) {
    if (ours(path))
        return open_ours(path, flags, mode);
    int fd = (int)syscall(SYS_openat, AT_FDCWD, path, flags, mode);
    if (fd >= 0 && fd < FILES && paths[fd]) {
        free(paths[fd]);
        paths[fd] = NULL;
    }
    return fd;
}

#define MODE_OF(flags) \
    mode_t mode = 0; \
    if ((flags) & (O_CREAT | O_TMPFILE)) { \
        va_list rest; \
        va_start(rest, flags); \
        mode = va_arg(rest, mode_t); \
        va_end(rest); \
    }

int open(const char *path, int flags, ...) {
    MODE_OF(flags)
    return opened(path, flags, mode);
}

int open64(const char *path, int flags, ...) {
    MODE_OF(flags)
    return opened(path, flags, mode);
}

int close(int fd) {
    if (of(fd)) {
        free(paths[fd]);
        paths[fd] = NULL;
    }
    return (int)syscall(SYS_close, fd);
}

static ssize_t written(int fd, const void *bytes, size_t length, long long offset, int moves) {
    const char *path = of(fd);
    if (fails())
        return -1;
    long count = moves ? syscall(SYS_write, fd, bytes, length)
                       : syscall(SYS_pwrite64, fd, bytes, length, offset);
    int kept = errno;
    if (count > 0)
        done('W', path, offset, (size_t)count, bytes);
    else
        pthread_mutex_unlock(&lock);
    errno = kept;
    return count;
}

ssize_t write(int fd, const void *bytes, size_t length) {
    if (!of(fd))
        return syscall(SYS_write, fd, bytes, length);
    return written(fd, bytes, length, (long long)syscall(SYS_lseek, fd, 0, SEEK_CUR), 1);
}

ssize_t pwrite(int fd, const void *bytes, size_t length, off_t offset) {
    if (!of(fd))
        return syscall(SYS_pwrite64, fd, bytes, length, offset);
    return written(fd, bytes, length, offset, 0);
}

ssize_t pwrite64(int fd, const void *bytes, size_t length, off64_t offset) {
    if (!of(fd))
        return syscall(SYS_pwrite64, fd, bytes, length, offset);
    return written(fd, bytes, length, offset, 0);
}

static int cut(int fd, long long length) {
    const char *path = of(fd);
    if (!path)
        return (int)syscall(SYS_ftruncate, fd, length);
    if (fails())
        return -1;
    int failed = (int)syscall(SYS_ftruncate, fd, length);
    int kept = errno;
    if (failed)
        pthread_mutex_unlock(&lock);
    else
        done('T', path, length, 0, NULL);
    errno = kept;
    return failed;
}

int ftruncate(int fd, off_t length) { return cut(fd, length); }
int ftruncate64(int fd, off64_t length) { return cut(fd, length); }

static int synced(int fd, long call) {
    const char *path = of(fd);
    if (!path)
        return (int)syscall(call, fd);
    if (fails())
        return -1;
    int failed = (int)syscall(call, fd);
    int kept = errno;
    if (failed)
        pthread_mutex_unlock(&lock);
    else
        done('S', path, 0, 0, NULL);
    errno = kept;
    return failed;
}

int fsync(int fd) { return synced(fd, SYS_fsync); }
int fdatasync(int fd) { return synced(fd, SYS_fdatasync); }

int unlink(const char *path) {
    if (!ours(path))
        return (int)syscall(SYS_unlinkat, AT_FDCWD, path, 0);
    if (fails())
        return -1;
    int failed = (int)syscall(SYS_unlinkat, AT_FDCWD, path, 0);
    int kept = errno;
    if (failed)
        pthread_mutex_unlock(&lock);
    else
        done('U', path, 0, 0, NULL);
    errno = kept;
    return failed;
}
