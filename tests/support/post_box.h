/* SPDX-License-Identifier: Apache-2.0 */
/* A mailbox for tests, read by IMAP on the loopback, in a thread of its own. It can lose its
 * numbers, and its server can fall silent or hang up in the middle of a mail. */
#ifndef OSIER_TESTS_SUPPORT_POST_BOX_H
#define OSIER_TESTS_SUPPORT_POST_BOX_H

#include <glib.h>

typedef struct PostBox PostBox;

PostBox *post_box_new(void);
void post_box_free(PostBox *box);
int post_box_port(const PostBox *box);

/* Puts a mail; its UID. */
guint32 post_box_put(PostBox *box, const char *mail);
guint32 post_box_put_bytes(PostBox *box, GBytes *mail); /* taken over */

/* The same mails under another UIDVALIDITY, numbered from 1 again. */
void post_box_renumber(PostBox *box);

/* A mail is deleted. */
void post_box_delete(PostBox *box, guint32 uid);

/* From now on the connection ends in the middle of that mail; 0: of none. */
void post_box_cut(PostBox *box, guint32 uid);

/* Connections are dropped at once while it is closed. */
void post_box_close_door(PostBox *box, gboolean closed);

int post_box_searches(PostBox *box);
int post_box_fetches(PostBox *box);

#endif
