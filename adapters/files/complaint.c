/* SPDX-License-Identifier: Apache-2.0 */
#include "adapters/files/complaint.h"

#include <stdarg.h>
#include <stdlib.h>

#include "core/clinic/fault.h"

void complaint_add(GPtrArray *messages, const char *file, int line, int column, const char *value,
                   const char *why, ...)
{
    g_autofree char *quoted = fault_quote(value);
    va_list list;

    va_start(list, why);
    g_autofree char *reason = g_strdup_vprintf(why, list);
    va_end(list);
    g_ptr_array_add(messages,
                    g_strdup_printf("%s:%d:%d: %s: %s", file, line, column, quoted, reason));
}

bool complaint_split(const char *line, Complaint *complaint)
{
    /* A quoted value holds no colon followed by a space, so the first one after the place ends it.
     */
    g_autoptr(GRegex) form =
        g_regex_new("^(.+?):([0-9]{1,9}):([0-9]{1,9}): (.*?): (.*)$", G_REGEX_DOTALL, 0, NULL);
    g_autoptr(GMatchInfo) match = NULL;

    if (!g_regex_match(form, line, 0, &match)) return false;
    g_autofree char *at_line = g_match_info_fetch(match, 2);
    g_autofree char *at_column = g_match_info_fetch(match, 3);
    complaint->file = g_match_info_fetch(match, 1);
    complaint->line = atoi(at_line);
    complaint->column = atoi(at_column);
    complaint->value = g_match_info_fetch(match, 4);
    complaint->why = g_match_info_fetch(match, 5);
    return true;
}

void complaint_clear(Complaint *complaint)
{
    g_clear_pointer(&complaint->file, g_free);
    g_clear_pointer(&complaint->value, g_free);
    g_clear_pointer(&complaint->why, g_free);
}
