/* SPDX-License-Identifier: Apache-2.0 */
/* Any bytes as a mail that came in, whole and as the beginning of a larger one. What is read of it can be stored and
 * shown; what cannot be read says why a person must look. */
#include <string.h>

#include "adapters/mail/compose.h"
#include "adapters/mail/read.h"
#include "tests/fuzz/mapped.h"

int LLVMFuzzerInitialize(int *argc, char ***argv);
int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

int LLVMFuzzerInitialize(int *argc, char ***argv)
{
    (void)argc;
    (void)argv;
    mail_start();
    return 0;
}

static void check_text(const char *text)
{
    g_assert(text == NULL || g_utf8_validate(text, -1, NULL));
}

static void check_ref(const char *ref)
{
    g_assert(ref == NULL || (strlen(ref) == 32 && strspn(ref, "0123456789ABCDEF") == 32));
}

static void read_one(GBytes *bytes, bool whole)
{
    g_autoptr(MailIn) in = mail_read(bytes, whole);
    const Incoming *incoming = in->incoming;

    g_assert(incoming != NULL && in->receipts != NULL);
    g_assert(incoming->text != NULL || incoming->problem != NULL);
    g_assert(whole || in->report || incoming->problem != NULL);
    check_text(incoming->id);
    check_text(incoming->from);
    check_text(incoming->text);
    check_text(incoming->subject);
    check_text(incoming->problem);
    check_text(incoming->raw);
    check_ref(incoming->ref);
    g_assert(incoming->raw == NULL || strlen(incoming->raw) <= 64 * 1024);
    for (guint i = 0; i < in->receipts->len; i++) {
        const Receipt *receipt = in->receipts->pdata[i];
        g_assert(receipt->fate == FATE_FAILED || receipt->fate == FATE_DELIVERED);
        check_ref(receipt->message);
        check_text(receipt->reason);
    }
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    g_autoptr(GBytes) bytes = g_bytes_new(data, size);

    read_one(bytes, true);
    read_one(bytes, false);
    return 0;
}
