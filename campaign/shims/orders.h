/* What the campaign orders, in a file that is mapped into each process (LAMPWRIGHT_CAMPAIGN_ORDERS). Without one: nothing. */
#include <stdint.h>

struct orders {
  int32_t clock_s;    /* the clock of the day is so many seconds on */
  int32_t send_errno; /* every datagram is refused so; 0: none */
  int32_t fork_errno; /* no process can be started; 0: it can */
  int32_t refused;    /* what was refused, counted */
  int32_t send_port;  /* datagrams to this port only; 0: to any */
};

extern volatile struct orders *campaign_orders;
