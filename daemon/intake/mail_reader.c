/* SPDX-License-Identifier: Apache-2.0 */
#include "daemon/intake/mail_reader.h"

struct MailReader {
    uv_loop_t *loop;
    uv_work_t work;
    GBytes *bytes; /* in hand, or NULL */
    bool whole;
    MailIn *in; /* once it is read */
    MailReaderDone *done;
    void *context;
    bool closing;
};

static void on_worker(uv_work_t *work)
{
    MailReader *reader = work->data;

    reader->in = mail_read(reader->bytes, reader->whole);
}

static void on_loop(uv_work_t *work, int status)
{
    MailReader *reader = work->data;
    MailIn *in = g_steal_pointer(&reader->in);

    g_assert(status == 0); /* nothing cancels it */
    g_clear_pointer(&reader->bytes, g_bytes_unref);
    if (!reader->closing) {
        reader->done(in, reader->context);
        return;
    }
    mail_in_free(in);
    g_free(reader);
}

MailReader *mail_reader_new(uv_loop_t *loop)
{
    MailReader *reader = g_new0(MailReader, 1);

    reader->loop = loop;
    reader->work.data = reader;
    return reader;
}

void mail_reader_close(MailReader *reader)
{
    reader->closing = true;
    if (reader->bytes == NULL) g_free(reader);
}

void mail_reader_read(MailReader *reader, GBytes *bytes, bool whole, MailReaderDone *done,
                      void *context)
{
    g_assert(reader->bytes == NULL && !reader->closing);
    if (reader->loop == NULL) {
        done(mail_read(bytes, whole), context);
        return;
    }
    reader->bytes = g_bytes_ref(bytes);
    reader->whole = whole;
    reader->done = done;
    reader->context = context;
    int queued = uv_queue_work(reader->loop, &reader->work, on_worker, on_loop);
    g_assert(queued == 0);
}
