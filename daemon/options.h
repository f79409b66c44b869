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
    int64_t seed;  /* with a made-up clock; drawn where none was given */
    LogLevel log;
    char *told; /* what is to be printed, and then nothing more: the version or the help; or NULL */
} Options;

/* Reads the command line. False after a complaint. options is cleared by the caller. */
bool options_read(int argc, char **argv, Options *options);
void options_clear(Options *options);

#endif
