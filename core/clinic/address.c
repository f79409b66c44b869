/* SPDX-License-Identifier: Apache-2.0 */
#include "core/clinic/address.h"

#include <arpa/inet.h>

enum { LOCAL_BYTES_MAX = 64, ADDRESS_BYTES_MAX = 254, LABEL_BYTES_MAX = 63 };

static bool refuse(const char **why, const char *reason)
{
    if (why != NULL) *why = reason;
    return false;
}

/* RFC 5322 atext and dots; letters beyond ASCII as in RFC 6531. */
static bool is_local(const char *text, size_t length)
{
    if (length == 0 || length > LOCAL_BYTES_MAX || text[0] == '.' || text[length - 1] == '.')
        return false;
    for (size_t i = 0; i < length; i++) {
        unsigned char c = (unsigned char)text[i];
        if (c < 0x80 && !g_ascii_isalnum(c) && strchr("!#$%&'*+-/=?^_`{|}~.", c) == NULL)
            return false;
        if (c == '.' && text[i + 1] == '.') return false;
    }
    return true;
}

static bool is_domain(const char *text)
{
    g_auto(GStrv) labels = g_strsplit(text, ".", -1);

    for (guint i = 0; labels[i] != NULL; i++) {
        size_t length = strlen(labels[i]);
        if (length == 0 || length > LABEL_BYTES_MAX) return false;
        if (labels[i][0] == '-' || labels[i][length - 1] == '-') return false;
        for (const char *at = labels[i]; *at != '\0'; at = g_utf8_next_char(at))
            if (*at != '-' && !g_unichar_isalnum(g_utf8_get_char(at))) return false;
    }
    return g_strv_length(labels) > 1 || strcmp(text, "localhost") == 0;
}

bool mail_address_valid(const char *text, const char **why)
{
    if (!g_utf8_validate(text, -1, NULL)) return refuse(why, "is not valid UTF-8");
    const char *at = strchr(text, '@');

    if (at == NULL) return refuse(why, "is no mail address; it has no @");
    if (strchr(at + 1, '@') != NULL)
        return refuse(why, "is no mail address; it has more than one @");
    if (strlen(text) > ADDRESS_BYTES_MAX) return refuse(why, "is too long for a mail address");
    if (!is_local(text, (size_t)(at - text)))
        return refuse(why, "is no mail address; what stands before the @ is wrong");
    if (!is_domain(at + 1))
        return refuse(why, "is no mail address; what stands after the @ is wrong");
    return true;
}

char *mail_address_of(const char *mailbox, const char **why)
{
    const char *open = strchr(mailbox, '<');
    g_autofree char *address = NULL;

    if (open == NULL) {
        address = g_strstrip(g_strdup(mailbox));
    } else {
        size_t length = strlen(open);
        if (open[length - 1] != '>' || strpbrk(mailbox, "\r\n\"") != NULL) {
            refuse(why, "must be written as Name <name@clinic.example>");
            return NULL;
        }
        address = g_strndup(open + 1, length - 2);
    }
    return mail_address_valid(address, why) ? g_steal_pointer(&address) : NULL;
}

/* Splits HOST:PORT; the host without its square brackets. NULL where it is none. */
static char *listen_host(const char *text)
{
    const char *colon = strrchr(text, ':');
    unsigned char address[16];

    if (colon == NULL || strlen(text) > 60) return NULL;
    size_t digits = strspn(colon + 1, "0123456789");
    long port = digits >= 1 && digits <= 5 ? strtol(colon + 1, NULL, 10) : 0;
    if (colon[1 + digits] != '\0' || port < 1 || port > 65535) return NULL;
    g_autofree char *host = g_strndup(text, (gsize)(colon - text));
    size_t length = strlen(host);
    if (length > 2 && host[0] == '[' && host[length - 1] == ']') {
        host[length - 1] = '\0';
        return inet_pton(AF_INET6, host + 1, address) == 1 ? g_strdup(host + 1) : NULL;
    }
    if (strcmp(host, "localhost") != 0 && inet_pton(AF_INET, host, address) != 1) return NULL;
    return g_steal_pointer(&host);
}

bool listen_valid(const char *text)
{
    g_autofree char *host = listen_host(text);

    return host != NULL;
}

bool listen_loopback(const char *text)
{
    g_autofree char *host = listen_host(text);
    unsigned char address[16];

    if (host == NULL) return false;
    if (strcmp(host, "localhost") == 0) return true;
    if (inet_pton(AF_INET, host, address) == 1) return address[0] == 127;
    static const unsigned char LOOPBACK[16] = {[15] = 1};
    return inet_pton(AF_INET6, host, address) == 1 &&
           memcmp(address, LOOPBACK, sizeof LOOPBACK) == 0;
}
