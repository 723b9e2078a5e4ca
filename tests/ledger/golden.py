"""Published check values, and one small ledger worked out by a program of its own."""

# RFC 8032, 7.1: tests 1, 2, 3 and SHA(abc): seed, public key, message, signature.
ED25519 = [
    (
        "9d61b19deffd5a60ba844af492ec2cc44449c5697b326919703bac031cae7f60",
        "d75a980182b10ab7d54bfed3c964073a0ee172f3daa62325af021a68f707511a",
        "",
        "e5564300c360ac729086e2cc806e828a84877f1eb8e5d974d873e06522490155"
        "5fb8821590a33bacc61e39701cf9b46bd25bf5f0595bbe24655141438e7a100b",
    ),
    (
        "4ccd089b28ff96da9db6c346ec114e0f5b8a319f35aba624da8cf6ed4fb8a6fb",
        "3d4017c3e843895a92b70aa74d1b7ebc9c982ccf2ec4968cc0cd55f12af4660c",
        "72",
        "92a009a9f0d4cab8720e820b5f642540a2b27b5416503f8fb3762223ebdb69da"
        "085ac1e43e15996e458f3613d0f11d8c387b2eaeb4302aeeb00d291612bb0c00",
    ),
    (
        "c5aa8df43f9f837bedb7442f31dcb7b166d38535076f094b85ce3a2e0b4458f7",
        "fc51cd8e6218a1a38da47ed00230f0580816ed13ba3303ac5deb911548908025",
        "af82",
        "6291d657deec24024827e69c3abe01a30ce548a284743a445e3680d7db5ac3ac"
        "18ff9b538d16f290ae67f760984dc6594a7c15e9716ed28dc027beceea1ec40a",
    ),
    (
        "833fe62409237b9d62ec77587520911e9a759cec1d19755b7da901b96dca3d42",
        "ec172b93ad5e563bf4932c70e1245034c35467ef2efd4d64ebf819683467e2bf",
        "ddaf35a193617abacc417349ae20413112e6fa4e89a97ea20a9eeee64b55d39a"
        "2192992a274fc1a836ba3c23a3feebbd454d4423643ce80e2a9ac94fa54ca49f",  # SHA-512 of abc
        "dc2a4459e7369633a52b1bf277839a00201009a3efbf3ecb69bea2186c26b589"
        "09351fc9ac90b3ecfdfbc7c66431e0303dca179c138ac17ad9bef1177331a704",
    ),
]

# Leaves and roots of sizes 0 to 8: github.com/transparency-dev/merkle, testonly/constants.go.
LEAVES = [
    bytes.fromhex(one)
    for one in (
        "",
        "00",
        "10",
        "2021",
        "3031",
        "40414243",
        "5051525354555657",
        "606162636465666768696a6b6c6d6e6f",
    )
]
ROOTS = [
    bytes.fromhex(one)
    for one in (
        "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855",
        "6e340b9cffb37a989ca544e6bb780a2c78901d3fb33738768511a30617afa01d",
        "fac54203e7cc696cf0dfcb42c92a1d9dbaf70ad9e621f4bd8d98662f00e3c125",
        "aeb6bcfe274b70a14fb067a5e5578264db0fa9b51af5e0ba159158f329e06e77",
        "d37ee418976dd95753c1c73862b9398fa2a2cf9b4ff0fdfe8b30cd95209614b7",
        "4e3bbb1f7b478dcfe71fb631631519a3bca12c9aefca1612bfce4c13a86264d4",
        "76e67dadbcdf1e10e1b74ddc608abd2f98dfb16fbce75277b5232a127f2087ef",
        "ddb89be403809e325750d3d263cd78929c2942b7942a34b77e122c9594a74c8c",
        "5dc9da79a70659a9ad559cb701ded9a2ab9d823aad2f4960cfe370eff4604328",
    )
]
A, B, C, D, E = (
    "5f083f0a1a33ca076a95279832580db3e0ef4584bdff1f54c8a360f50de3031e",
    "bc1a0643b12e4d2d7c77918f44e0f4f79a838b6cf9ec5b5c283e1f4d88599e6b",
    "ca854ea128ed050b41b35ffc1b87b8eb2bde461e9e3b5596ece6b9d5975a0ae0",
    "0ebc5d3437fbe2db158b9f126a1d118e308181031d0a949f8dededebc558ef6a",
    "96a296d224f285c67bee93c30f8a309157f0daa35dc5b87e410b78630a09cfc7",
)
INCLUSIONS = {  # index and size
    (0, 8): [E, A, "6b47aaf29ee3c2af9af889bc1fb9254dabd31177f16232dd6aab035ca39bf6e4"],
    (5, 8): [B, C, ROOTS[4].hex()],
}
CONSISTENCIES = {  # old and new size
    (6, 8): [D, C, ROOTS[4].hex()],
    (2, 5): [A, B],
    (1, 8): INCLUSIONS[0, 8],
}

# The example of C2SP signed-note.
NOTE_KEY = "example.com/foo+530d903a+AekyeRrm56hApGFkyQR4ZCbV54Id2LKaANYcrnKv3U2k"
NOTE = (
    "This is an example message.\n\n\u2014 example.com/foo Uw2QOkn8srV1yJGh2VYRlL1Tnagv1YEq6TfX"
    "ppzi2ONncAlTgK7Ztg1ERYNZXsYjOBH3mFXmRKuwHjG1Yu72IneyaQM=\n"
)

# One small ledger, computed with hashlib and PyNaCl apart from the program under test: the
# school's key is ED25519[0], the instructor's [1], the student's [2].
STATEMENT = (
    '{"actor":"inst-7","body":{"grades":{"T1":"4","T2":"3"},"minutes":72,'
    '"remarks":"crosswind Ö é"},"claimed_at":"2026-03-01T14:05:00Z",'
    '"id":"5f0c2c1e-0000-4000-8000-000000000001","lesson":"L-0001",'
    '"nonce":"00000000000000000000000000000000","student":"stud-3",'
    '"type":"lesson.sign","tz":"America/Denver","v":1}'
)
STATEMENT_SHA256 = "b2648996c6aef41246b23aa6ae1d8a403e71a83964dd4329559c2c30951fa4b0"
STATEMENT_SIGNATURE = (
    "ac053ea661ee3bc9bac82b9e373c5a8e9646f0a45304b674bc34e2f4a0a640f2"
    "fcdad0227cb4ee0d1a1421f6839f3fcf773ffd7a76f1e5f3259b951b7f1e730c"
)
LEAF_HASHES = [
    bytes.fromhex(one)
    for one in (
        "0acf7c83423b5ed71cc2c0083c513c35a6b50deb2dcf5b66e321c539b3cb17f4",
        "124529ccc957b3ec8ccd9053e52c443808d1f3386ea2b7d3684f3cf3d86e763a",
        "b72a64c1df894e10a04d165558cf2ff5cdcb581205d056aee1e62bed9079278c",
    )
]
LEDGER_ROOT = bytes.fromhex("577b33c6ecad81d4544d7831e67195dd00f4b8a892b816b84b124b631a54998b")
CHECKPOINT = "school.example/ledger\n3\nV3szxuytgdRUTXgx5nGV3QD0uKiSuBa4SxJLYxpUmYs=\n"
CHECKPOINT_KEY = "school.example/ledger+b1e733ff+AddamAGCsQq31Uv+08lkBzoO4XLz2qYjJa8CGmj3B1Ea"
CHECKPOINT_LINE = (
    "\u2014 school.example/ledger secz/xsjCD3llbpxLaZsHzmMoeBO1Yobm+wIKg1nc88fyWkVYRMCf8Mrb+yE"
    "oiOcLfktikhpOwJ0xeX63E1SLsmUVQw=\n"
)
