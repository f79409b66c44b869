/* SPDX-License-Identifier: Apache-2.0 */
/* What osierd is started with. */
#ifndef OSIER_DAEMON_OPTIONS_H
#define OSIER_DAEMON_OPTIONS_H

#include <glib.h>
#include <stdbool.h>
#include <stdint.h>

#include "daemon/log/log.h"

typedef struct {
    char *clinic;  /* the folder */
    char *clock;   /* the made-up instant, or NULL: the system's clock */
    bool stand_by; /* wait until no other works on the schema */
    double speed;  /* 0: stepped */
    int64_t seed;
    LogLevel log;
    bool version; /* say which version this is, and end */
} Options;

/* Reads the command line. False after a complaint. options is cleared by the caller. */
bool options_read(int argc, char **argv, Options *options);
void options_clear(Options *options);

#endif
