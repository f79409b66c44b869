/* SPDX-License-Identifier: Apache-2.0 */
/* A stopped rehearsal's ledger, read from its store. */
#ifndef OSIER_DAEMON_REHEARSAL_LEDGER_FILE_H
#define OSIER_DAEMON_REHEARSAL_LEDGER_FILE_H

#include <glib.h>
#include <stdbool.h>
#include <uv.h>

typedef struct {
    GString *lines;      /* every event, a line of JSON each */
    GHashTable *replies; /* keys of the replies that were received */
    int reports;
    int measures;
    int moves;
} LedgerFile;

/* Reads all events. False and *why (g_free) where the store cannot be opened. */
bool ledger_file_read(LedgerFile *ledger, uv_loop_t *loop, const char *store, int64_t now_ms,
                      char **why);
void ledger_file_clear(LedgerFile *ledger);
G_DEFINE_AUTO_CLEANUP_CLEAR_FUNC(LedgerFile, ledger_file_clear)

/* What tells one reply from another (g_free); of a mail it is what stands before the @ of its Message-ID. */
char *ledger_reply_key(const char *from, const char *text, int64_t at_ms);
char *ledger_mail_key(const char *id);

#endif
