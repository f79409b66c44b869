/* SPDX-License-Identifier: Apache-2.0 */
#include "adapters/files/spool.h"

#include <errno.h>
#include <glib/gstdio.h>
#include <string.h>

#include "core/calendar/date.h"

static char *content(const Outgoing *message, const char *at)
{
    return g_strdup_printf("To: %s\nAt: %s\nId: %s\n%s%s%s\n%s\n", message->to, at, message->id,
                           message->subject != NULL ? "Subject: " : "",
                           message->subject != NULL ? message->subject : "",
                           message->subject != NULL ? "\n" : "", message->text);
}

bool spool_write(const char *dir, const Outgoing *message, int64_t now_ms, char **why)
{
    g_autofree char *at = instant_format(now_ms);
    g_autofree char *name = g_strdup_printf("%s-%s.txt", at, message->id);
    g_autofree char *path = g_build_filename(dir, g_strdelimit(name, ":", '-'), NULL);
    g_autofree char *text = content(message, at);
    g_autoptr(GError) error = NULL;

    if (g_mkdir_with_parents(dir, 0700) != 0) {
        *why = g_strdup_printf("%s: %s", dir, g_strerror(errno));
        return false;
    }
    if (g_file_test(path, G_FILE_TEST_EXISTS)) return true;
    if (!g_file_set_contents_full(path, text, (gssize)strlen(text), G_FILE_SET_CONTENTS_DURABLE,
                                  0600, &error)) {
        *why = g_strdup(error->message);
        return false;
    }
    return true;
}
