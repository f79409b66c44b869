/* SPDX-License-Identifier: Apache-2.0 */
/* Reads mail off the loop, on one of libuv's workers: whoever means harm can write a mail that takes long to read, and nobody
 * else's message may wait for it. */
#ifndef OSIER_DAEMON_INTAKE_MAIL_READER_H
#define OSIER_DAEMON_INTAKE_MAIL_READER_H

#include <uv.h>

#include "adapters/mail/read.h"

typedef struct MailReader MailReader;

/* Called on the loop; in is the callee's. */
typedef void MailReaderDone(MailIn *in, void *context);

/* loop NULL: reads on the spot, for a daemon without one. */
MailReader *mail_reader_new(uv_loop_t *loop);

/* What is in hand is dropped, and its done not called; frees itself once a worker has come back. */
void mail_reader_close(MailReader *reader);

/* Reads as mail_read does; one mail at a time. Bytes stay the caller's. */
void mail_reader_read(MailReader *reader, GBytes *bytes, bool whole, MailReaderDone *done,
                      void *context);

#endif
