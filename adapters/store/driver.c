/* SPDX-License-Identifier: Apache-2.0 */
#include "adapters/store/driver.h"

#include <string.h>

bool statement_copy_bytes(Statement *statement, int column, uint8_t *bytes, int length)
{
    int held = 0;
    const uint8_t *from = statement->calls->bytes(statement, column, &held);

    if (from == NULL || held != length) return false;
    memcpy(bytes, from, (size_t)length);
    return true;
}
