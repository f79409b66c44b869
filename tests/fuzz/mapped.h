/* SPDX-License-Identifier: Apache-2.0 */
/* The gateway whose answers and posts the targets play, and what must hold of what was read from them. */
#ifndef OSIER_TESTS_FUZZ_MAPPED_H
#define OSIER_TESTS_FUZZ_MAPPED_H

#include <stddef.h>
#include <stdint.h>

#include "core/clinic/clinic.h"
#include "core/wire/message.h"

/* Made once: a fuzz target has no other place to keep it. */
const Gateway *mapped_gateway(void);

/* Cuts a line off the front of the bytes (g_free); NULL where they have none. */
char *mapped_line(const uint8_t **data, size_t *size);

void mapped_check(const Incoming *incoming);

#endif
