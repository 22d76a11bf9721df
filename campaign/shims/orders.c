#include "orders.h"
#include <fcntl.h>
#include <stdlib.h>
#include <sys/mman.h>
#include <unistd.h>

static struct orders none;
volatile struct orders *campaign_orders = &none;

__attribute__((constructor)) static void open_orders(void) {
  const char *path = getenv("LAMPWRIGHT_CAMPAIGN_ORDERS");
  int file = path ? open(path, O_RDWR | O_CLOEXEC) : -1;
  if (file < 0) return;
  void *at = mmap(0, sizeof none, PROT_READ | PROT_WRITE, MAP_SHARED, file, 0);
  if (at != MAP_FAILED) campaign_orders = at;
  close(file);
}
