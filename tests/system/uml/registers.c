/*
 * For linux.uml on processors with a larger register state than it knows (tile registers): it saves the first part of that state and
 * writes this part back, which a kernel refuses that wants the whole (PTRACE_SETREGSET, NT_X86_XSTATE: EFAULT). Here the rest is
 * added, unused: nothing in there has tiles. Loaded before the C library: gcc -O2 -shared -fPIC -o registers.so registers.c
 */
#define _GNU_SOURCE
#include <dlfcn.h>
#include <elf.h>
#include <stdarg.h>
#include <stdint.h>
#include <string.h>
#include <sys/ptrace.h>
#include <sys/uio.h>

/* Largest state by far: tiles end at 11008 bytes. */
static unsigned char whole[1 << 16];
/* bytes, 0: not known yet */
static size_t size;
/* The XSAVE header's word that says which parts are in use, and the first of the tiles among them (Intel SDM 1, 13.4). */
enum { IN_USE = 512, TILES = 17 };

long ptrace(enum __ptrace_request request, ...)
{
    static long (*next)(enum __ptrace_request, ...);
    va_list rest;
    va_start(rest, request);
    long pid = va_arg(rest, long);
    void *which = va_arg(rest, void *);
    struct iovec *part = va_arg(rest, void *);
    va_end(rest);
    if (!next)
        next = (long (*)(enum __ptrace_request, ...))dlsym(RTLD_NEXT, "ptrace");
    if (request == PTRACE_SETREGSET && (uintptr_t)which == NT_X86_XSTATE) {
        if (size == 0) {
            struct iovec all = {whole, sizeof whole};
            if (next(PTRACE_GETREGSET, pid, which, &all) != 0)
                return -1;
            size = all.iov_len;
            memset(whole, 0, size);
        }
        if (part->iov_len < size) {
            struct iovec all = {whole, size};
            uint64_t in_use;
            memcpy(whole, part->iov_base, part->iov_len);
            memcpy(&in_use, whole + IN_USE, sizeof in_use);
            in_use &= (1ull << TILES) - 1;
            memcpy(whole + IN_USE, &in_use, sizeof in_use);
            return next(request, pid, which, &all);
        }
    }
    return next(request, pid, which, part);
}
