/* SPDX-License-Identifier: Apache-2.0 */
/* Core is values in, values out. The Makefile includes this file before every core source, so that reaching for a
 * clock, a random source or a stream is a compile error that says why. */
#ifndef OSIER_CORE_BANNED_H
#define OSIER_CORE_BANNED_H

/* What core may use comes first, for these headers name some of the words below. */
#include <glib.h>
#include <jansson.h>
#include <libical/ical.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#pragma GCC poison time localtime localtime_r gmtime gmtime_r mktime clock_gettime gettimeofday
#pragma GCC poison rand srand random drand48
#pragma GCC poison printf fprintf puts fopen getenv setenv
#pragma GCC poison strcpy strcat sprintf vsprintf strtok gets

#endif
