/* SPDX-License-Identifier: Apache-2.0 */
/* Any bytes as a YAML file, for the targets that read one. */
#ifndef OSIER_TESTS_FUZZ_PAPER_H
#define OSIER_TESTS_FUZZ_PAPER_H

#include <stddef.h>
#include <stdint.h>

#include "core/clinic/fault.h"

/* Reads a tree; adds its faults. False where it has any. */
typedef bool PaperRead(json_t *tree, Faults *faults);

/* Writes the bytes as a file, reads it, and sees that it is either taken or complained about, each complaint one line of valid
 * UTF-8 that names a place. */
void paper_try(const uint8_t *data, size_t size, PaperRead *read);

#endif
