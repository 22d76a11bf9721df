/* The clock of the day jumps; those that only run on (CLOCK_MONOTONIC) don't, as on a real machine (clock_gettime(2)). */
#define _GNU_SOURCE
#include "orders.h"
#include <dlfcn.h>
#include <sys/time.h>
#include <time.h>

int clock_gettime(clockid_t clock, struct timespec *at) {
  static int (*real)(clockid_t, struct timespec *);
  if (!real) real = dlsym(RTLD_NEXT, "clock_gettime");
  int result = real(clock, at);
  if (result == 0 && (clock == CLOCK_REALTIME || clock == CLOCK_REALTIME_COARSE))
    at->tv_sec += campaign_orders->clock_s;
  return result;
}

int gettimeofday(struct timeval *restrict at, void *restrict zone) {
  static int (*real)(struct timeval *, void *);
  if (!real) real = dlsym(RTLD_NEXT, "gettimeofday");
  int result = real(at, zone);
  if (result == 0) at->tv_sec += campaign_orders->clock_s;
  return result;
}

time_t time(time_t *at) {
  struct timespec now;
  clock_gettime(CLOCK_REALTIME, &now);
  if (at) *at = now.tv_sec;
  return now.tv_sec;
}
